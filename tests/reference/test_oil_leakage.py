"""Leakage, passages and overlapping holes against the fluids library and numeric integration."""

import math

import pytest
from fluids.fittings import Hooper2K
from fluids.friction import Churchill_1977
from scipy import integrate, optimize

MITRED = "Elbow, 90°, Mitered (R/D = 1.5), 1 weld (90° angle)"
THIN = {"cool_viscosity": 6, "cool_temperature": 50, "hot_viscosity": 2, "hot_temperature": 90, "density": 850,
        "density_temperature": 90}
PASSAGE = {"units": "metric", "diameter": 12, "length": 900, "oil": THIN, "temperature": 90}


def flow_of(reynolds, diameter, kinematic):
    """Litres per minute."""
    return reynolds * kinematic * math.pi / 4 * diameter * 60000


@pytest.mark.parametrize("roughness", [0, 0.006, 0.06, 0.3])
@pytest.mark.parametrize("reynolds", [0.5, 90, 999, 1001, 1900, 2300, 3000, 4500, 2e4, 1e5])
def test_friction_is_churchills_in_all_regimes(service, reynolds, roughness):
    flow = flow_of(reynolds, 0.012, 2e-6)
    answer = service.post("/v1/oil/passage", {**PASSAGE, "ends": "joined", "roughness": roughness, "flow": flow})
    # The library prints Churchill's equation with Darcy's factor as well.
    expected = Churchill_1977(Re=reynolds, eD=roughness / 12)
    assert math.isclose(answer["reynolds_number"], reynolds, rel_tol=1e-12)
    assert math.isclose(answer["friction_factor"], expected, rel_tol=1e-9)
    velocity = flow / 60000 / (math.pi / 4 * 0.012**2)
    drop = expected * 0.9 / 0.012 * 850 * velocity**2 / 2
    assert math.isclose(answer["pressure_drop"] * 1e5, drop, rel_tol=1e-9)
    assert math.isclose(answer["parts"]["friction"], answer["pressure_drop"], rel_tol=1e-12)


@pytest.mark.parametrize("reynolds", [1, 50, 700, 3000, 1e4, 3e4])
def test_turns_are_hoopers_mitred_elbow_without_its_term_for_size(service, reynolds):
    # The library's formula with a pipe of endless size is the one without the term for size.
    expected = Hooper2K(Di=1e9, Re=reynolds, name=MITRED)
    flow = flow_of(reynolds, 0.012, 2e-6)
    answer = service.post("/v1/oil/passage", {**PASSAGE, "bends": 3, "loss_coefficient": 0.7, "flow": flow})
    head = 850 * (flow / 60000 / (math.pi / 4 * 0.012**2)) ** 2 / 2
    assert math.isclose(answer["parts"]["bends"] * 1e5, 3 * expected * head, rel_tol=1e-6)
    assert math.isclose(answer["parts"]["other"] * 1e5, 0.7 * head, rel_tol=1e-9)
    if not 2000 < reynolds < 4000:
        ends = 2.28 if reynolds < 2000 else 1.5
        assert math.isclose(answer["parts"]["ends"] * 1e5, ends * head, rel_tol=1e-9)


@pytest.mark.parametrize("pressure_drop", [0.0005, 0.02, 0.5, 4, 60])
def test_the_flow_at_a_drop_is_the_librarys_root(service, pressure_drop):
    answer = service.post("/v1/oil/passage", {**PASSAGE, "ends": "joined", "roughness": 0.02, "pressure_drop": pressure_drop})
    area = math.pi / 4 * 0.012**2

    def excess(log):
        velocity = math.exp(log)
        factor = Churchill_1977(Re=velocity * 0.012 / 2e-6, eD=0.02 / 12)
        return factor * 0.9 / 0.012 * 850 * velocity**2 / 2 - pressure_drop * 1e5

    velocity = math.exp(optimize.brentq(excess, -15, 8, xtol=1e-14))
    assert math.isclose(answer["velocity"], velocity, rel_tol=1e-8)
    assert math.isclose(answer["flow"] / 60000, velocity * area, rel_tol=1e-8)


@pytest.mark.parametrize("eccentricity", [0, 0.3, 0.8, 1])
@pytest.mark.parametrize("count", [1, 16])
def test_leakage_is_the_integral_of_the_gap(service, eccentricity, count):
    """Slit flow h^3 dp/(12 mu l) summed round a gap whose height is that between two eccentric circles."""
    request = {"units": "metric", "diameter": 23, "clearance": 0.05, "length": 38, "eccentricity": eccentricity, "count": count,
               "oil": THIN, "temperature": 90, "pressure_drop": 3.5}
    answer = service.post("/v1/oil/annulus", request)
    bore, part = 23e-3 / 2, (23e-3 - 0.05e-3) / 2
    off = eccentricity * (bore - part)

    def height(t):
        # From the part's surface outwards to the bore, the part's centre off the bore's.
        return -off * math.cos(t) + math.sqrt(bore**2 - (off * math.sin(t)) ** 2) - part

    around = integrate.quad(lambda t: height(t) ** 3 * bore, 0, 2 * math.pi, epsrel=1e-11)[0]
    flow = count * around * 3.5e5 / (12 * 2e-6 * 850 * 38e-3)
    # The thin gap's closed form takes the height as c (1 + e cos t): off by a share of c/D.
    assert math.isclose(answer["flow"] / 60000, flow, rel_tol=0.005)


@pytest.mark.parametrize("shell, feed", [(6, 6), (6, 7), (5, 9), (8, 3)])
@pytest.mark.parametrize("share", [0.0, 0.1, 0.45, 0.8, 0.99])
def test_the_open_area_is_integrated(service, shell, feed, share):
    distance = share * (shell + feed) / 2
    answer = service.post("/v1/oil/feed-overlap", {
        "units": "metric", "shell_hole": shell, "feed_hole": feed, "housing_diameter": 55, "arc_distance": distance})
    a, b = shell / 2, feed / 2
    # Strips across the line of centres: as high as the lower circle.
    height = lambda x: 2 * math.sqrt(max(min(a * a - x * x, b * b - (x - distance) ** 2), 0))
    cross = (distance**2 + a * a - b * b) / (2 * distance) if distance else 0.0
    low, high = max(-a, distance - b), min(a, distance + b)
    points = [cross] if low < cross < high else None
    area = integrate.quad(height, low, high, points=points, limit=400)[0]
    assert math.isclose(answer["open_area"], area, rel_tol=1e-6, abs_tol=1e-9)
    assert math.isclose(answer["equivalent_hole"], math.sqrt(4 * area / math.pi), rel_tol=1e-6)


def test_the_flat_face_is_within_what_its_page_says(service):
    """Holes drilled square into a cylinder, unrolled exactly and integrated: how far the flat picture is off."""
    shell, feed, face, angle = 7.0, 7.0, 28.0, 12.0
    answer = service.post("/v1/oil/feed-overlap", {
        "units": "metric", "shell_hole": shell, "feed_hole": feed, "housing_diameter": face, "turned_angle": angle})
    radius, turn = face / 2, math.radians(angle)
    # At a place t round the face, a drill along t = 0 of radius a reaches |z| <= sqrt(a^2 - (R sin t)^2).
    half = lambda hole, t: math.sqrt(max((hole / 2) ** 2 - (radius * math.sin(t)) ** 2, 0))
    area = integrate.quad(lambda t: 2 * radius * min(half(shell, t), half(feed, t - turn)), -0.6, 0.6 + turn, limit=500,
                          points=[turn / 2])[0]
    assert math.isclose(answer["open_area"], area, rel_tol=0.03)
    assert answer["open_area"] < area
