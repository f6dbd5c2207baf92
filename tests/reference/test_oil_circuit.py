"""The oil circuit beside EPANET (through wntr) on pipe networks, and beside scipy on networks of all kinds of elements."""

import json
import math

import numpy as np
import pytest
import wntr
from scipy import optimize

PATH = "/v1/oil/circuit"
# EPANET's own constants: 1.1e-5 ft2/s of water to which viscosities are relative, and gravity of 32.2 ft/s2.
FOOT = 0.3048
WATER = 1.1e-5 * FOOT**2
GRAVITY = 32.2 * FOOT
DENSITY = 870.0


def oil(square_millimetres):
    """An oil of one viscosity and density at 40 degrees C, whatever it is elsewhere."""
    return {
        "cool_viscosity": square_millimetres, "cool_temperature": 40, "hot_viscosity": square_millimetres * (0.3 if square_millimetres > 4 else 0.6),
        "hot_temperature": 100, "density": DENSITY, "density_temperature": 40}


def pipe_network(seed):
    """A feed, a tree of passages with loops across it, a drain and consumers: 24 to 60 passages."""
    random = np.random.default_rng(seed)
    nodes = int(random.integers(16, 40))
    pairs = [(int(random.integers(max(0, at - 4), at)), at) for at in range(1, nodes)]
    while len(pairs) < nodes + 8 + seed:
        pair = tuple(sorted(int(end) for end in random.integers(0, nodes, 2)))
        if pair[0] != pair[1] and pair not in pairs:
            pairs.append(pair)
    pipes = [(*pair, random.uniform(5e-3, 12e-3), random.uniform(0.05, 0.6)) for pair in pairs]
    takers = random.choice(np.arange(1, nodes), 5, replace=False)
    return nodes, pipes, {int(node): random.uniform(0.5, 3.0) * 1e-5 for node in takers}


def epanet(nodes, pipes, demands, drive, viscosity, folder):
    """Heads as pressures by node, and flows by pipe."""
    model = wntr.network.WaterNetworkModel()
    hydraulic = model.options.hydraulic
    hydraulic.headloss, hydraulic.viscosity, hydraulic.accuracy, hydraulic.trials = "D-W", viscosity / WATER, 1e-7, 500
    hydraulic.inpfile_units = "LPS"
    base = 1.0  # heads come in single precision: small ones keep more of it
    model.add_reservoir("0", base_head=base + drive / (DENSITY * GRAVITY))
    for node in range(1, nodes - 1):
        model.add_junction(str(node), base_demand=demands.get(node, 0.0))
    model.add_reservoir(str(nodes - 1), base_head=base)
    for at, (start, end, diameter, length) in enumerate(pipes):
        model.add_pipe(f"p{at}", str(start), str(end), length=length, diameter=diameter, roughness=1e-9)
    found = wntr.sim.EpanetSimulator(model).run_sim(file_prefix=str(folder / "network"))
    heads = [found.node["head"][str(node)].iloc[0] for node in range(nodes)]
    flows = [found.link["flowrate"][f"p{at}"].iloc[0] for at in range(len(pipes))]
    return (np.array(heads, dtype=float) - base) * DENSITY * GRAVITY, np.array(flows, dtype=float)


def circuit(nodes, pipes, demands, drive, viscosity):
    known = {0: drive / 1e5, nodes - 1: 0}
    elements = [
        {"name": f"p{at}", "kind": "passage", "from": str(start), "to": str(end), "diameter": diameter * 1e3, "length": length * 1e3}
        for at, (start, end, diameter, length) in enumerate(pipes)]
    elements += [
        {"name": f"c{node}", "kind": "fixed_consumer", "from": str(node), "to": str(nodes - 1), "flow": flow * 60000}
        for node, flow in demands.items() if node != nodes - 1]
    return {
        "units": "metric", "oil": oil(viscosity * 1e6), "oil_temperature": 40, "engine_speed": 1000,
        "nodes": [{"name": str(node), **({"pressure": known[node]} if node in known else {})} for node in range(nodes)],
        "elements": elements}


@pytest.mark.parametrize("seed", range(1, 6))
@pytest.mark.parametrize("viscosity, drive, laminar", [(100e-6, 1e4, True), (20e-6, 2e3, True), (2e-6, 5e5, False)])
def test_pipe_networks_beside_epanet(service, tmp_path, seed, viscosity, drive, laminar):
    """Laminar networks: both use Hagen and Poiseuille's law, and agree to EPANET's single-precision results. Turbulent ones:
    EPANET takes Swamee and Jain's factor, the service Churchill's, which differ by up to about three percent in the drop."""
    nodes, pipes, demands = pipe_network(seed)
    heads, flows = epanet(nodes, pipes, demands, drive, viscosity, tmp_path)
    answer = service.post(PATH, circuit(nodes, pipes, demands, drive, viscosity))
    found = {element["name"]: element for element in answer["elements"]}
    reynolds = [found[f"p{at}"]["reynolds_number"] for at in range(len(pipes))]
    assert answer["mass_balance_residual_share"] < 1e-9
    assert len(pipes) >= 24
    pressures = np.array([node["pressure"] * 1e5 for node in answer["nodes"]])
    mine = np.array([found[f"p{at}"]["flow"] / 60000 for at in range(len(pipes))])
    largest = np.abs(flows).max()
    if laminar:
        assert max(reynolds) < 1000
        assert np.abs(mine - flows).max() < 1e-4 * largest
        assert np.abs(pressures - heads).max() < 1e-4 * drive
    else:
        assert np.median(reynolds) > 3000 and max(reynolds) > 20000, "many passages are turbulent"
        assert np.abs(mine - flows).max() < 0.03 * largest
        assert np.abs(pressures - heads).max() < 0.03 * drive


def restrictor(drop, diameter, length, viscosity):
    """Lichtarowicz, Duggins and Markland between 2 and 10 diameters, with the creeping bound."""
    if drop == 0:
        return 0.0
    slender = length / diameter
    ideal = math.sqrt(2 * abs(drop) / DENSITY)
    reynolds = diameter * ideal / viscosity
    inverse = 1 / (0.827 - 0.0085 * slender) + 20 / reynolds * (1 + 2.25 * slender)
    inverse -= 0.005 * slender / (1 + 7.5 * math.log10(0.00015 * reynolds) ** 2)
    coefficient = min(1 / inverse, reynolds / (12 * math.pi + 64 * slender))
    return math.copysign(coefficient * math.pi / 4 * diameter**2 * ideal, drop)


def mixed(seed, viscosity):
    """A circuit with its laws in Python: (request, function from pressures to flows, ends by node number)."""
    random = np.random.default_rng(100 + seed)
    mu = viscosity * DENSITY
    stations = int(random.integers(3, 9))
    names = ["sump", "outlet", "filtered"] + [f"{what}{at}" for at in range(stations) for what in ("g", "m", "t")]
    speed = random.uniform(800, 6000) * math.pi / 30
    elements, laws = [], []

    def add(law, **element):
        elements.append({"name": f"e{len(elements)}", **element})
        laws.append((names.index(element["from"]), names.index(element["to"]), law))

    displacement = random.uniform(3e-6, 6e-6) * stations
    free, slip = displacement * 0.5 * speed / (2 * math.pi), 5e-5 / 4e5 * 0.012 / mu
    add(lambda d: free + slip * d, kind="pump", **{"from": "sump"}, to="outlet", displacement=displacement * 1e6, drive_ratio=0.5,
        slip_flow=3, slip_pressure=4, slip_viscosity=12)
    slope = 50 / 60000 / 1e5
    add(lambda d: max(0.0, slope * (d - 4e5)), kind="relief_valve", **{"from": "outlet"}, to="sump", opening_pressure=4,
        rated_flow=50, rated_pressure=5)
    plain, bypass = 30 / 60000 / 2e4 * 0.012 / mu, 30 / 60000 / 5e4
    add(lambda d: plain * d + max(0.0, bypass * (d - 1e5)), kind="filter", **{"from": "outlet"}, to="filtered", rated_flow=30,
        rated_pressure=0.2, rated_viscosity=12, bypass_opening_pressure=1, bypass_rated_flow=30, bypass_rated_pressure=1.5)

    def passage(start, end, diameter, length, losses=0.0, head=0.0, **more):
        """Laminar friction with losses: a q + b q^2; the viscosities of the test keep it laminar."""
        a = 128 * mu * length / (math.pi * diameter**4)
        b = losses * DENSITY / 2 / (math.pi / 4 * diameter**2) ** 2

        def law(drop):
            drop += head
            return math.copysign(2 * abs(drop) / (a + math.sqrt(a * a + 4 * b * abs(drop))), drop)
        more = {"loss_coefficient": losses, **more} if losses else more
        add(law, kind=more.pop("kind", "passage"), **{"from": start}, to=end, diameter=diameter * 1e3, length=length * 1e3, **more)

    before = "filtered"
    for at in range(stations):
        gallery, main, top = f"g{at}", f"m{at}", f"t{at}"
        passage(before, gallery, 0.013, random.uniform(0.05, 0.12), random.uniform(0, 2))
        passage(gallery, main, 0.008, 0.06)
        radius, clearance, width, off = 0.03, random.uniform(3e-5, 5e-5), 0.022, random.uniform(0, 0.9)
        bearing = math.pi * radius * (clearance) ** 3 * (1 + 1.5 * off**2) / (3 * mu * (width / 2))
        add(lambda d, k=bearing: k * d, kind="journal_bearing", **{"from": main}, to="sump", diameter=60, length=22,
            clearance=2e3 * clearance, eccentricity=off)
        entry, exit_ = 0.03, random.uniform(0.03, 0.05)
        head = DENSITY * speed**2 * (exit_**2 - entry**2) / 2
        passage(main, "sump", 0.0012, 0.09, kind="rotating_drilling", head=head, entry_radius=30, exit_radius=exit_ * 1e3)
        hole, long = random.uniform(1.2e-3, 2.4e-3), random.uniform(5.2e-3, 9e-3)
        add(lambda d, h=hole, l=long: restrictor(d, h, l, viscosity), kind="restrictor", **{"from": gallery}, to=top,
            diameter=hole * 1e3, length=long * 1e3)
        gap = math.pi * 0.0214 * 2e-5**3 * (1 + 1.5 * 0.25) / (12 * mu * 0.03)
        add(lambda d, k=gap: 4 * k * d, kind="annulus", **{"from": top}, to="sump", diameter=21.4, length=30, clearance=0.04,
            eccentricity=0.5, count=4)
        add(lambda d: 2 * restrictor(d, 0.0008, 0.003, viscosity), kind="jet", **{"from": top}, to="sump", diameter=0.8, length=3,
            count=2)
        before = gallery
    add(lambda d: 1e-6, kind="fixed_consumer", **{"from": before}, to="sump", flow=0.06)
    request = {
        "units": "metric", "oil": oil(viscosity * 1e6), "oil_temperature": 40, "engine_speed": speed * 30 / math.pi,
        "nodes": [{"name": name, **({"pressure": 0} if name == "sump" else {})} for name in names], "elements": elements}
    return request, laws, len(names)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("viscosity", [30e-6, 120e-6])
def test_mixed_networks_beside_scipy(service, seed, viscosity):
    """scipy's root finder on the balance of every node, each law written again in Python."""
    request, laws, count = mixed(seed, viscosity)

    def flows(pressures):
        whole = np.concatenate([[0.0], pressures * 1e5])
        return [law(whole[start] - whole[end]) for start, end, law in laws]

    def losses(pressures):
        loss = np.zeros(count)
        for (start, end, _), flow in zip(laws, flows(pressures)):
            loss[start] += flow
            loss[end] -= flow
        return loss[1:] * 60000

    answer = service.post(PATH, request)
    passages = [one for one in answer["elements"] if one["kind"] in ("passage", "rotating_drilling")]
    assert max(one["reynolds_number"] for one in passages) < 1000, "the laws in Python are laminar"
    solution = optimize.root(losses, np.full(count - 1, 3.0), method="hybr", tol=1e-13, options={"maxfev": 100000})
    if np.abs(losses(solution.x)).max() > 1e-7:
        # From afar the hybrid method may stall at a valve that opens; the least-squares one goes on.
        solution = optimize.least_squares(losses, solution.x, xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=20000)
    assert np.abs(losses(solution.x)).max() < 1e-7, "scipy found the balance"
    found = np.array([node["pressure"] for node in answer["nodes"]])[1:]
    assert np.abs(found - solution.x).max() < 1e-5
    expected = np.array(flows(solution.x)) * 60000
    mine = np.array([element["flow"] for element in answer["elements"]])
    assert np.abs(mine - expected).max() < 1e-5 * np.abs(expected).max()


def test_the_circuit_of_a_budget_can_be_edited_and_posted(service):
    from conftest import ROOT
    request = json.loads((ROOT / "fixtures/examples/oil/budget.json").read_text())
    budget = service.post("/v1/oil/budget", request)
    answer = service.post(PATH, budget["circuit"])
    for name in ("bottom_end", "top_end", "supply", "relief"):
        assert math.isclose(answer["point"][name], budget["restricted"][name], rel_tol=1e-9, abs_tol=1e-12), name
    edited = budget["circuit"]
    plug = next(one for one in edited["elements"] if one["kind"] == "restrictor")
    plug["diameter"] = 0.06
    request["system"]["restrictor"]["diameter"] = "0.06 in"
    narrower = service.post("/v1/oil/budget", request)["restricted"]
    again = service.post(PATH, edited)
    assert math.isclose(again["point"]["top_end"], narrower["top_end"], rel_tol=1e-9)
    assert again["point"]["bottom_end"] > answer["point"]["bottom_end"]


def test_the_build_sheet_gives_the_same_budget(service):
    from conftest import ROOT
    request = json.loads((ROOT / "fixtures/examples/oil/budget.json").read_text())
    build = json.loads((ROOT / "fixtures/builds/harbour_launch_v8.json").read_text())
    without = service.post("/v1/builds/evaluate", build)
    assert "oil" not in without and {"result": "#/oil", "needs": "#/oil"} in without["missing"]
    assert build["units"] == "inch" and build["engine"]["cylinders"] == 8
    budget = service.post("/v1/oil/budget", {
        **request, "stroke": build["crankshaft"]["stroke"], "engine_speed": build["running"]["engine_speed"]})
    answer = service.post("/v1/builds/evaluate", {**build, "oil": request["system"]})
    for name in ("as_it_is", "restricted", "gain"):
        assert answer["oil"][name] == budget[name]
    assert [one["code"] for one in answer["cautions"]].count("measure_and_mock_up") == 1
