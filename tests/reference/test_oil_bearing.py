"""Journal bearings: the table against its program, the program against another method, the answers against scipy and numpy."""

import math
import pathlib
import re

import numpy as np
import pint
import pytest
from scipy import integrate, optimize, sparse

import bearing_table as program

PATH = "/v1/oil/journal-bearing"
SOURCE = pathlib.Path(__file__).resolve().parents[2] / "calc-core" / "src" / "oil" / "bearing_table.rs"
UNITS = pint.UnitRegistry()

MU, TURNS, RADIUS, CLEARANCE = 0.017, 20.0, 0.05, 1e-4
OMEGA = 2 * math.pi * TURNS
OIL = {"cool_viscosity": 60, "cool_temperature": 30, "hot_viscosity": 20, "hot_temperature": 60, "density": 850,
       "density_temperature": 60}
BASE = {"units": "metric", "diameter": 100, "clearance": 0.2, "journal_speed": 1200, "oil": OIL, "supply_temperature": 60,
        "film_temperature": 60}
FULL = {**BASE, "groove": "full", "land": 30, "groove_width": 8, "supply_pressure": 3}


def load_of(dimensionless, width):
    """W in newtons of W/(mu w r l (r/c)^2)."""
    return dimensionless * MU * OMEGA * RADIUS * width * (RADIUS / CLEARANCE) ** 2


def tables():
    """The four tables as they stand in the source."""
    text = SOURCE.read_text()
    found = {}
    for name, _ in program.NAMES:
        body = re.search(rf"const {name}: Table = \[(.*?)\];\n", text, re.S).group(1)
        found[name] = np.array([float(figure) for figure in re.findall(r"-?\d+\.\d+", body)]).reshape(program.WIDTHS, -1)
    return found


@pytest.mark.parametrize("row", [0, 5, 11, 16])
@pytest.mark.parametrize("column", [0, 9, 18, 26])
def test_the_table_is_what_its_program_makes(row, column):
    """Sixteen places of the table, made again."""
    made = program.log_ratios(program.WIDTH_RATIOS[row], program.ECCENTRICITIES[column])
    for (name, _), value in zip(program.NAMES, made):
        assert abs(tables()[name][row, column] - value) <= 1.5e-6, name


@pytest.mark.parametrize("width_ratio", [0.055, 0.127, 0.33, 0.52, 0.93, 1.9])
@pytest.mark.parametrize("eccentricity", [0.03, 0.31, 0.66, 0.885, 0.972])
def test_between_the_places_of_the_table_the_answer_is_the_solution(service, width_ratio, eccentricity):
    load, attitude, flow, peak = program.solve(width_ratio, eccentricity)
    width = width_ratio * 2 * RADIUS
    answer = service.post(PATH, {**BASE, "groove": "none", "width": 1000 * width, "load": load_of(load, width)})
    assert math.isclose(1 - answer["eccentricity"], 1 - eccentricity, rel_tol=1e-3)
    assert math.isclose(answer["attitude_angle"], math.degrees(attitude), rel_tol=1e-3)
    assert math.isclose(answer["film_flow"] / 60000, flow * RADIUS * CLEARANCE * TURNS * width, rel_tol=1e-3)
    assert math.isclose(answer["peak_pressure"] * 1e5, peak * MU * OMEGA * (RADIUS / CLEARANCE) ** 2, rel_tol=2e-3)
    # Friction by integrating the shear over the whole gap, the film taken as full, and the pressure's part by balance of torque.
    shear = integrate.quad(lambda t: 1 / (1 + eccentricity * math.cos(t)), 0, 2 * math.pi)[0]
    drag = shear + eccentricity / 2 * math.sin(attitude) * load
    torque = drag * MU * OMEGA * RADIUS**3 * width / CLEARANCE
    assert math.isclose(answer["friction_power"] * 1000, torque * OMEGA, rel_tol=1e-3)


def by_minimum(width_ratio, eccentricity, around=200, across=16):
    """The same bearing by bilinear finite elements on an even grid and scipy's bounded minimisation: W and attitude angle.

    The film's pressure is the one of all p >= 0 that minimises the integral of H^3 (p_t^2 + (d/l)^2 p_z^2)/2 + 6 H' p.
    """
    theta = np.linspace(0, 2 * math.pi, around + 1)
    step, rise = theta[1], 1 / across
    number = np.arange((around + 1) * (across + 1)).reshape(around + 1, across + 1)
    corners = [number[:-1, :-1].ravel(), number[1:, :-1].ravel(), number[1:, 1:].ravel(), number[:-1, 1:].ravel()]
    middle = np.repeat((theta[:-1] + theta[1:]) / 2, across)
    film = (1 + eccentricity * np.cos(middle)) ** 3
    along = np.array([[2, -2, -1, 1], [-2, 2, 1, -1], [-1, 1, 2, -2], [1, -1, -2, 2]]) * rise / step / 6
    outward = np.array([[2, 1, -1, -2], [1, 2, -2, -1], [-1, -2, 2, 1], [-2, -1, 1, 2]]) * step / rise / 6 / width_ratio**2
    element = along + outward
    stiffness = sparse.coo_matrix(
        (np.concatenate([film * element[i, j] for i in range(4) for j in range(4)]),
         (np.concatenate([corners[i] for i in range(4) for _ in range(4)]),
          np.concatenate([corners[j] for _ in range(4) for j in range(4)])))).tocsr()
    push = np.zeros(number.size)
    for corner in corners:
        np.add.at(push, corner, 6 * eccentricity * np.sin(middle) * step * rise / 4)
    # Nothing at the thickest film (both ends of the strip) and at the edge z = 1.
    free = np.ones(number.shape, bool)
    free[0], free[-1], free[:, -1] = False, False, False
    inside = np.flatnonzero(free)
    matrix, right = stiffness[inside][:, inside], push[inside]
    scale = 1 / np.sqrt(matrix.diagonal())
    matrix = sparse.diags(scale) @ matrix @ sparse.diags(scale)
    result = optimize.minimize(
        lambda p: (0.5 * p @ (matrix @ p) - scale * right @ p, matrix @ p - scale * right), np.zeros(len(inside)), jac=True,
        method="L-BFGS-B", bounds=[(0, None)] * len(inside), options={"maxiter": 20000, "maxfun": 40000, "ftol": 1e-15, "gtol": 1e-9})
    pressure = np.zeros(number.size)
    pressure[inside] = scale * result.x
    weight = np.zeros(number.size)
    for corner in corners:
        np.add.at(weight, corner, step * rise / 4)
    angle = np.repeat(theta, across + 1)
    against, sideways = -(pressure * weight * np.cos(angle)).sum(), (pressure * weight * np.sin(angle)).sum()
    return math.hypot(against, sideways), math.atan2(sideways, against)


@pytest.mark.parametrize("width_ratio, eccentricity", [(0.15, 0.5), (0.35, 0.8), (1.0, 0.2), (1.0, 0.7)])
def test_another_method_finds_the_same_film(width_ratio, eccentricity):
    load, attitude = by_minimum(width_ratio, eccentricity)
    expected = program.solve(width_ratio, eccentricity)
    assert math.isclose(load, expected[0], rel_tol=0.01)
    assert math.isclose(attitude, expected[1], rel_tol=0.01)


def test_long_and_short_limits_of_the_program():
    """A very narrow bearing is Ocvirk's; a very wide one, nearly centred or not, has the load of the infinite one."""
    assert np.allclose(program.solve(0.01, 0.6) / program.short_bearing(0.01, 0.6), 1, atol=3e-3)
    # Infinite bearing, film from the thickest place to where p and p' vanish together: shot with scipy. Table-free.
    e = 0.6
    height = lambda t: 1 + e * math.cos(t)

    def at_end(end):
        gap = height(end)
        return integrate.quad(lambda t: 6 * (height(t) - gap) / height(t) ** 3, 0, end)[0]

    end = optimize.brentq(at_end, math.pi + 0.05, 2 * math.pi - 0.05)
    gap = height(end)
    pressure = lambda t: integrate.quad(lambda s: 6 * (height(s) - gap) / height(s) ** 3, 0, t)[0]
    against = -integrate.quad(lambda t: pressure(t) * math.cos(t), 0, end)[0]
    sideways = integrate.quad(lambda t: pressure(t) * math.sin(t), 0, end)[0]
    wide = program.solve(40.0, e, grids=[(120, 24), (240, 48)])
    assert math.isclose(wide[0], math.hypot(against, sideways), rel_tol=0.03)
    assert math.isclose(wide[1], math.atan2(sideways, against), rel_tol=0.02)


@pytest.mark.parametrize("groove", [
    {"groove": "full", "groove_width": 8},
    {"groove": "partial_arc", "groove_width": 8, "groove_arc": 150},
    {"groove": "partial_arc", "groove_width": 6, "groove_arc": 90, "feed_position": 110},
])
@pytest.mark.parametrize("load", [2000, 20000, 80000])
def test_what_the_supply_presses_through_is_the_integral_of_the_film(service, groove, load):
    answer = service.post(PATH, {**BASE, **groove, "width": 68, "load": load, "supply_pressure": 3})
    half = math.radians(groove.get("groove_arc", 360)) / 2
    # The load presses an attitude angle before the thinnest film, which is half a turn from the thickest.
    centre = math.pi - math.radians(answer["attitude_angle"]) + math.radians(groove.get("feed_position", 180))
    cube = integrate.quad(
        lambda t: (CLEARANCE * (1 + answer["eccentricity"] * math.cos(t))) ** 3, centre - half, centre + half)[0]
    land = (68 - groove["groove_width"]) / 2000
    assert math.isclose(answer["pressure_flow"] / 60000, 3e5 * RADIUS * cube / (6 * MU * land), rel_tol=1e-9)


@pytest.mark.parametrize("hole", [6, 12, 20])
def test_a_single_hole_feeds_as_a_source_in_a_strip(service, hole):
    """An even film (no load): an independent finite-difference solution, and the handbooks' fit."""
    width = 40.0
    answer = service.post(PATH, {**BASE, "groove": "single_hole", "hole_diameter": hole, "width": width, "load": 0,
                                 "supply_pressure": 3})
    found = answer["pressure_flow"] / 60000 / (3e5 * CLEARANCE**3 / MU)
    # F. A. Martin and the Tribology Handbook: 0.675 (d/l + 0.4)^1.75 (from memory).
    assert math.isclose(found, 0.675 * (hole / width + 0.4) ** 1.75, rel_tol=0.04)
    # A quarter of the strip, far end closed: Laplace with p = 1 in the hole and p = 0 at the edge; energy gives the flow.
    cells = 160
    step = width / 2 / cells
    x, y = np.meshgrid(np.arange(4 * cells + 1) * step, np.arange(cells + 1) * step, indexing="ij")
    inside = x * x + y * y <= (hole / 2) ** 2
    number = np.arange(x.size).reshape(x.shape)
    rows, columns, values = [], [], []
    for one, other, weight in [
        (number[:-1], number[1:], np.where((np.arange(cells + 1) % cells) == 0, 0.5, 1.0)[None, :] * np.ones((4 * cells, 1))),
        (number[:, :-1], number[:, 1:], np.where((np.arange(4 * cells + 1) % (4 * cells)) == 0, 0.5, 1.0)[:, None] * np.ones((1, cells))),
    ]:
        a, b, w = one.ravel(), other.ravel(), weight.ravel()
        rows += [a, b, a, b]
        columns += [b, a, a, b]
        values += [-w, -w, w, w]
    matrix = sparse.coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsr()
    pressure = np.where(inside, 1.0, 0.0).ravel()
    known = inside.ravel() | (y == y.max()).ravel()
    free = ~known
    pressure[free] = sparse.linalg.spsolve(matrix[free][:, free].tocsc(), -(matrix[free][:, known] @ pressure[known]))
    flow = 4 * (pressure @ (matrix @ pressure)) / 12
    assert math.isclose(found, flow, rel_tol=0.03)


def with_supply(width_ratio, eccentricity, supply, around=120, across=24):
    """One land with the supply's pressure at its inner edge: flow out of the outer edge in units of Qs/(r c N l)."""
    step = 2 * math.pi / around
    theta = np.arange(around) * step
    film, face = 1 + eccentricity * np.cos(theta), 1 + eccentricity * np.cos(theta + step / 2)
    rise = 2 / (across + 1)
    slender = width_ratio**-2
    number = np.arange(around * across).reshape(around, across)
    along = np.repeat((face**3 / step * rise)[:, None], across, axis=1)
    outward = slender * film**3 * step / rise
    diagonal = along + np.roll(along, 1, axis=0) + 2 * outward[:, None]
    rows, columns, values = [number.ravel()], [number.ravel()], [diagonal.ravel()]
    for one, other, weight in [(number, np.roll(number, -1, axis=0), along),
                               (number[:, :-1], number[:, 1:], np.repeat(outward[:, None], across - 1, axis=1))]:
        rows += [one.ravel(), other.ravel()]
        columns += [other.ravel(), one.ravel()]
        values += [-weight.ravel()] * 2
    matrix = sparse.coo_matrix((np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))).tocsr()
    drag = 6 * (face - np.roll(face, 1))
    right = -np.repeat((drag * rise)[:, None], across, axis=1)
    right[:, 0] += outward * supply
    pressure = program.complementary(matrix, right.ravel(), np.zeros(number.size, bool)).reshape(around, across)
    edge = outward * pressure[:, -1] - np.where(pressure[:, -1] > 0, drag * rise / 2, 0)
    lift = pressure.sum(axis=1) * rise / 2 * step
    load = math.hypot((lift * np.cos(theta)).sum(), (lift * np.sin(theta)).sum())
    return math.pi / 6 * edge.sum() / 2, load


@pytest.mark.parametrize("supply", [0.05, 0.3, 1.0])
@pytest.mark.parametrize("eccentricity", [0.3, 0.7, 0.9])
def test_the_sum_of_the_flows_is_near_the_film_with_its_supply(supply, eccentricity):
    """Martin's sum of the film's own flow and the supply's against the film that has both."""
    width_ratio = 0.3
    own = program.solve(width_ratio, eccentricity)[2]
    both, load = with_supply(width_ratio, eccentricity, supply)
    none, load_alone = with_supply(width_ratio, eccentricity, 0.0)
    # Out of the outer edge of one land: half the film's own, and all of the supply's; together as the answers have it.
    pressed = math.pi / 6 / width_ratio**2 * supply * (math.pi + 1.5 * math.pi * eccentricity**2) / 2
    together = own / 2 + pressed - 0.3 * math.sqrt(own / 2 * pressed)
    assert abs(together / both - 1) < 0.12
    # The film with its supply carries more when it is lightly loaded, and all but the same when heavily.
    assert load > 0.96 * load_alone and load < (2.0 if eccentricity < 0.5 else 1.15) * load_alone


@pytest.mark.parametrize("load", [3000, 20000, 60000])
def test_the_side_flow_of_a_full_groove_is_that_sum(service, load):
    answer = service.post(PATH, {**FULL, "load": load})
    own = program.solve(0.3, answer["eccentricity"])[2] * RADIUS * CLEARANCE * TURNS * 0.03
    assert math.isclose(answer["film_flow"] / 60000, own, rel_tol=1e-3)
    film, pressed = answer["film_flow"], answer["pressure_flow"]
    expected = max(film, pressed, film + pressed - 0.3 * math.sqrt(film * pressed))
    assert math.isclose(answer["side_flow"], expected, rel_tol=1e-12)


CASES = [
    {**FULL, "load": 12000},
    {**FULL, "load": 9000, "oil": {**OIL, "high_shear_viscosity": 1.1}},
    {**FULL, "groove": "single_hole", "groove_width": None, "land": None, "width": 60, "hole_diameter": 10, "load": 9000},
]


@pytest.mark.parametrize("case", CASES)
def test_the_heat_balance_is_scipys_root(service, case):
    """The film temperature by scipy's root of the service's own isothermal answers: half the rise above the supply."""
    request = {key: value for key, value in case.items() if value is not None and key != "film_temperature"}
    answer = service.post(PATH, request)

    def excess(celsius):
        held = service.post(PATH, {**request, "film_temperature": celsius})
        return 60 + held["temperature_rise"] / 2 - celsius

    assert math.isclose(answer["film_temperature"], optimize.brentq(excess, 60, answer["film_temperature"] + 5, xtol=1e-10), abs_tol=1e-4)
    # The rise is the power over what the flow carries, with Cragoe's specific heat at the film's temperature.
    rho15 = optimize.brentq(lambda rho: rho * math.exp(-(a := 0.6278 / rho * 45) * (1 + 0.8 * a)) - 850, 700, 1100)
    heat = (1684.8 + 3.39 * answer["film_temperature"]) / math.sqrt(rho15 / 999)
    carried = answer["film_density"] * heat * answer["side_flow"] / 60000 * answer["temperature_rise"]
    assert math.isclose(carried, answer["friction_power"] * 1000, rel_tol=1e-4)
    assert abs(answer["heat_residual"]) < 1e-6


ENGINE = {"bore": 105, "stroke": 95, "rod_length": 152, "gas_pressure": 65, "reciprocating_mass": 905, "rotating_mass": 480}


@pytest.mark.parametrize("speed", [1500, 3000, 6500, 9000])
@pytest.mark.parametrize("gas_angle", [0, 12, 25])
def test_the_worst_load_is_that_of_moved_points(service, speed, gas_angle):
    """Forces from positions alone: the acceleration by numerical differences, the rod as a vector between two points."""
    answer = service.post(PATH, {
        **{key: value for key, value in FULL.items() if key != "film_temperature"}, "journal_speed": speed,
        "engine_load": {**ENGINE, "gas_angle": gas_angle}})["engine_load"]
    radius, rod = ENGINE["stroke"] / 2000, ENGINE["rod_length"] / 1000
    omega = speed * 2 * math.pi / 60
    crank = lambda t: radius * np.array([math.sin(t), math.cos(t)])
    pin = lambda t: np.array([0.0, crank(t)[1] + math.sqrt(rod**2 - crank(t)[0] ** 2)])

    def load(t, pressure):
        step = 1e-4
        acceleration = (pin(t + step)[1] - 2 * pin(t)[1] + pin(t - step)[1]) / step**2 * omega**2
        along = (crank(t) - pin(t)) / rod
        push = pressure * math.pi / 4 * (ENGINE["bore"] / 1000) ** 2 + ENGINE["reciprocating_mass"] / 1000 * acceleration
        force = push / -along[1] * along + ENGINE["rotating_mass"] / 1000 * omega**2 * crank(t)
        return math.hypot(*force)

    firing = load(math.radians(gas_angle), ENGINE["gas_pressure"] * 1e5)
    inertia = max(load(t, 0.0) for t in np.linspace(0, 2 * math.pi, 1441))
    assert math.isclose(answer["firing_load"], firing, rel_tol=1e-5)
    assert math.isclose(answer["inertia_load"], inertia, rel_tol=1e-5)
    assert math.isclose(answer["load"], max(firing, inertia), rel_tol=1e-5)


def spellings(service, schema):
    import json

    document = json.loads(service.get("/openapi.json"))
    pattern = document["components"]["schemas"][schema]["oneOf"][1]["pattern"]
    return re.search(r"\\s\*\((.*)\)\?\\s", pattern).group(1).split("|")


PINT = {"lb": "lb", "g": "gram", "oz": "ounce", "gram": "gram", "grams": "gram", "Btu/lb/degF": "Btu_it/lb/delta_degF"}


@pytest.mark.parametrize("schema, field, pointer, unit, size", [
    ("ForceInput", "load", "load", "newton", 12000.0),
    ("MassInput", "rotating_mass", "rotating_force", "gram", 480.0),
    ("SpecificHeatInput", "specific_heat", "temperature_rise", "kJ/kg/K", 2.0),
])
def test_every_spelling_means_what_pint_says(service, schema, field, pointer, unit, size):
    found = spellings(service, schema)
    assert len(found) >= 3
    for spelling in found:
        name = "lbf" if (schema, spelling) == ("ForceInput", "lb") else PINT.get(spelling, spelling)
        text = f"{UNITS.Quantity(size, unit).to(name).magnitude!r} {spelling}"
        if schema == "MassInput":
            request = {**FULL, "engine_load": {**ENGINE, field: text}}
            value = service.post(PATH, request)["engine_load"][pointer]
            expected = size / 1000 * ENGINE["stroke"] / 2000 * OMEGA**2
        else:
            value = service.post(PATH, {**FULL, "load": 12000, field: text})[pointer]
            expected = size
        if schema == "SpecificHeatInput":
            answer = service.post(PATH, {**FULL, "load": 12000})
            heat = answer["friction_power"] * 1000 / (answer["film_density"] * answer["side_flow"] / 60000)
            expected = heat / (1000 * size)
        assert math.isclose(value, expected, rel_tol=1e-9), spelling
    inch = service.post(PATH, {**FULL, "load": 12000, "units": "inch", "diameter": "100 mm", "clearance": "0.2 mm", "land": "30 mm",
                               "groove_width": "8 mm", "load": "12000 N", "supply_temperature": "60 degC",
                               "film_temperature": "60 degC", "supply_pressure": "3 bar",
                               "oil": {**OIL, "cool_temperature": "30 degC", "hot_temperature": "60 degC",
                                       "density_temperature": "60 degC"}})
    metric = service.post(PATH, {**FULL, "load": 12000})
    for name, [one, other] in {"friction_power": ["horsepower", "kW"], "load": ["lbf", "N"], "side_flow": ["gallon/minute", "L/minute"]}.items():
        assert math.isclose(UNITS.Quantity(inch[name], one).to(other).magnitude, metric[name], rel_tol=1e-9), name


@pytest.mark.parametrize("change, code, severity", [
    ({"film_limit": 0.02}, "film_below_limit", "danger"),
    ({"roughness": 0.006}, "film_near_roughness", "caution"),
    ({"roughness": 0.03}, "film_near_roughness", "danger"),
    ({"load": 40000}, "high_eccentricity", "caution"),
    ({"clearance": 0.3}, "unusual_clearance_ratio", "caution"),
    ({"supply_temperature": 121, "film_temperature": 121, "load": 5000}, "hot_film", "caution"),
    ({"journal_speed": 20000, "clearance": 0.9}, "film_not_laminar", "caution"),
    ({"groove": "partial_arc", "land": None, "width": 68, "groove_arc": 150, "feed_position": 100}, "feed_in_loaded_arc", "caution"),
    ({"groove": "partial_arc", "land": None, "width": 68, "groove_arc": 150}, "flow_is_lower_bound", "note"),
    ({"film_temperature": 110}, "heat_does_not_balance", "caution"),
    ({}, "steady_load", "note"),
    ({}, "measure_and_mock_up", "caution"),
])
def test_what_should_be_looked_at_twice_is_said_once(service, change, code, severity):
    request = {key: value for key, value in {**FULL, "load": 6000, **change}.items() if value is not None}
    cautions = [caution for caution in service.post(PATH, request)["cautions"] if caution["code"] == code]
    assert [caution["severity"] for caution in cautions] == [severity]
    if change and code not in ("unusual_clearance_ratio",):
        calm = service.post(PATH, {**FULL, "load": 6000})["cautions"]
        assert code not in [caution["code"] for caution in calm]
