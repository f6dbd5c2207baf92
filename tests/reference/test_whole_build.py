"""Goal against scipy's root finding, tolerance against the uncertainties package and numpy's draws, sweep against single calls."""

import csv
import io
import itertools
import json
import math
import urllib.request

import numpy as np
import pytest
from scipy.optimize import brentq, root
from uncertainties import ufloat

from whole_build import BUILD, results, with_uncertainty, with_values

GOALS = [
    ("/cylinder_head/chamber_volume", 40, 80, "/compression/static_ratio", 9.4),
    ("/block/deck_height", 239, 241, "/geometry/squish_clearance", 1.05),
    ("/block/deck_height", 239, 242, "/compression/trapped_ratio", 7.9),
    ("/crankshaft/stroke", 80, 89, "/geometry/displacement", 3600),
    ("/camshaft/intake_closes_abdc", 20, 90, "/compression/trapped_ratio", 8.0),
    ("/running/engine_speed", 2000, 9000, "/geometry/mean_piston_speed", 16.5),
    ("/head_gasket/compressed_thickness", 0.4, 3.0, "/compression/static_ratio", 9.9),
    ("/connecting_rod/length", 150, 153, "/compression/clearance_volume", 80),
]


def ask(service, unknowns, wanted):
    return service.post("/v1/builds/goal", {
        "build": BUILD,
        "unknowns": [{"pointer": pointer, "min": low, "max": high} for pointer, low, high in unknowns],
        "wanted": [{"pointer": pointer, **limits} for pointer, limits in wanted]})


def test_the_reference_is_the_same_engine(service):
    answer = service.post("/v1/builds/evaluate", BUILD)
    for pointer, value in results({}).items():
        found = answer
        for name in pointer[1:].split("/"):
            found = found[name]
        assert math.isclose(found, value, rel_tol=1e-12), pointer


@pytest.mark.parametrize("unknown,low,high,result,target", GOALS)
def test_one_unknown_is_brents_root(service, unknown, low, high, result, target):
    expected = brentq(lambda x: results({unknown: x})[result] - target, low, high, xtol=1e-13, rtol=1e-14)
    answer = ask(service, [(unknown, low, high)], [(result, {"equal": target})])
    assert answer["found"], answer["reason"]
    assert math.isclose(answer["unknowns"][0]["value"], expected, rel_tol=1e-10)
    assert answer["evaluations"] < 200


@pytest.mark.parametrize("unknowns,wanted", [
    ([("/cylinder_head/chamber_volume", 40, 80), ("/block/deck_height", 239, 241)],
     [("/compression/static_ratio", 9.6), ("/geometry/squish_clearance", 1.1)]),
    # Both results hang on both unknowns.
    ([("/block/bore", 94.3, 97), ("/cylinder_head/chamber_volume", 40, 80)],
     [("/compression/static_ratio", 9.7), ("/compression/trapped_volume", 600)]),
    ([("/block/bore", 94.3, 97), ("/crankshaft/stroke", 84, 89), ("/cylinder_head/chamber_volume", 40, 90)],
     [("/geometry/displacement", 3700), ("/geometry/bore_stroke_ratio", 1.09), ("/compression/trapped_ratio", 8.0)]),
    # All three hang on each other: the targets are near those of stroke 87, chamber 58 and closing 62.
    ([("/crankshaft/stroke", 85, 89), ("/cylinder_head/chamber_volume", 45, 70), ("/camshaft/intake_closes_abdc", 40, 80)],
     [("/compression/static_ratio", 8.73), ("/compression/trapped_ratio", 7.1), ("/compression/trapped_volume", 560)]),
])
def test_several_unknowns_are_scipys_root(service, unknowns, wanted):
    pointers = [unknown[0] for unknown in unknowns]
    scale = np.array([high - low for _, low, high in unknowns])

    def missing(x):
        found = results(dict(zip(pointers, x * scale)))
        return [found[pointer] / target - 1 for pointer, target in wanted]

    start = np.array([(low + high) / 2 for _, low, high in unknowns]) / scale
    solved = root(missing, start, tol=1e-13)
    answer = ask(service, unknowns, [(pointer, {"equal": target}) for pointer, target in wanted])
    inside = all(low <= x <= high for x, (_, low, high) in zip(solved.x * scale, unknowns))
    assert solved.success and inside, "the comparison has a root inside the ranges"
    assert answer["found"], answer["reason"]
    for unknown, expected in zip(answer["unknowns"], solved.x * scale):
        assert math.isclose(unknown["value"], expected, rel_tol=1e-8)


def test_what_is_out_of_reach_says_how_near_one_gets(service):
    answer = ask(service, [("/cylinder_head/chamber_volume", 50, 80)], [("/compression/static_ratio", {"at_least": 14})])
    most = results({"/cylinder_head/chamber_volume": 50})["/compression/static_ratio"]
    assert not answer["found"] and answer["unknowns"][0]["at_end"] == "min"
    assert math.isclose(answer["wanted"][0]["highest"], most, rel_tol=1e-12)
    assert "does not come above" in answer["reason"]


def test_limits_move_no_more_than_they_must(service):
    chamber = ("/cylinder_head/chamber_volume", 40, 80)
    ratio = results({})["/compression/static_ratio"]
    stays = ask(service, [chamber], [("/compression/static_ratio", {"at_least": ratio - 1, "at_most": ratio + 1})])
    assert stays["unknowns"][0]["value"] == pytest.approx(55.5, rel=1e-15)
    moved = ask(service, [chamber], [("/compression/static_ratio", {"at_least": ratio - 2, "at_most": ratio - 0.5})])
    expected = brentq(lambda x: results({chamber[0]: x})["/compression/static_ratio"] - ratio + 0.5, 40, 80, xtol=1e-13)
    assert math.isclose(moved["unknowns"][0]["value"], expected, rel_tol=1e-9)


TOLERANCES = {
    "/block/bore": 0.012, "/block/deck_height": 0.05, "/crankshaft/stroke": 0.05, "/connecting_rod/length": 0.03,
    "/piston/compression_height": 0.025, "/piston/dish_volume": 0.3, "/piston/pin_offset": 0.05,
    "/cylinder_head/chamber_volume": 0.5, "/head_gasket/bore": 0.4, "/head_gasket/compressed_thickness": 0.05,
    "/camshaft/intake_closes_abdc": 1.0, "/running/engine_speed": 50.0}
WATCHED = ["/compression/static_ratio", "/geometry/squish_clearance", "/compression/trapped_ratio", "/geometry/mean_piston_speed",
           "/geometry/displacement"]
LIMITS = {"/compression/static_ratio": {"at_least": 9.55, "at_most": 9.68}, "/geometry/squish_clearance": {"at_least": 1.57}}
DIVISOR = {"rectangular": math.sqrt(3), "normal": 2}


def planned(pointer):
    section, field = pointer[1:].split("/")
    return BUILD[section][field]


def tolerate(service, distribution="rectangular", **fields):
    return service.post("/v1/builds/tolerance", {
        "build": BUILD,
        "tolerances": [
            {"pointer": pointer, "tolerance": size, "distribution": distribution} for pointer, size in TOLERANCES.items()],
        "results": [{"pointer": pointer, **LIMITS.get(pointer, {})} for pointer in WATCHED], **fields})


@pytest.mark.parametrize("distribution", DIVISOR)
def test_first_order_is_what_the_uncertainties_package_says(service, distribution):
    answer = tolerate(service, distribution, draws=1000)
    inputs = {pointer: ufloat(planned(pointer), size / DIVISOR[distribution], pointer) for pointer, size in TOLERANCES.items()}
    expected = with_uncertainty(inputs)
    for result in answer["results"]:
        value = expected[result["pointer"]]
        value = value.item() if hasattr(value, "item") else value
        assert math.isclose(result["nominal"], value.nominal_value, rel_tol=1e-12)
        assert math.isclose(result["standard_uncertainty"], value.std_dev, rel_tol=1e-6), result["pointer"]
        sizes = {part.tag: size for part, size in value.error_components().items()}
        for share in result["shares"]:
            size = sizes.get(share["pointer"], 0.0)
            assert math.isclose(share["uncertainty"], size, rel_tol=1e-4, abs_tol=1e-7 * value.std_dev), share
            assert math.isclose(share["share"], 100 * (size / value.std_dev) ** 2, rel_tol=1e-4, abs_tol=1e-9), share


def test_a_standard_uncertainty_is_taken_as_one(service):
    answer = service.post("/v1/builds/tolerance", {
        "build": BUILD, "tolerances": [{"pointer": "/block/deck_height", "standard_uncertainty": 0.02}],
        "results": [{"pointer": "/geometry/squish_clearance"}], "draws": 200000})
    result = answer["results"][0]
    assert math.isclose(result["standard_uncertainty"], 0.02, rel_tol=1e-9)
    assert math.isclose(result["standard_deviation"], 0.02, rel_tol=0.01)
    assert math.isclose(result["worst_high"] - result["nominal"], 0.04, rel_tol=1e-9)


def test_the_worst_case_is_found_by_trying_every_corner(service):
    corners = np.array(list(itertools.product([-1, 1], repeat=len(TOLERANCES))))
    inputs = {
        pointer: planned(pointer) + corners[:, place] * size for place, (pointer, size) in enumerate(TOLERANCES.items())}
    expected = results(inputs)
    for result in tolerate(service, draws=1000)["results"]:
        values = expected[result["pointer"]]
        assert math.isclose(result["worst_low"], values.min(), rel_tol=1e-11)
        assert math.isclose(result["worst_high"], values.max(), rel_tol=1e-11)


def uniform(seed, count):
    """SplitMix64 in numpy: the same numbers as the service draws."""
    state = np.uint64(seed) + np.arange(1, count + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    state = (state ^ (state >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    state = (state ^ (state >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return ((state ^ (state >> np.uint64(31))) >> np.uint64(11)).astype(float) * 2.0**-53


@pytest.mark.parametrize("seed", [1, 99])
def test_the_draws_are_the_same_as_numpys(service, seed):
    draws, percents = 20_000, [1, 10, 50, 90, 99]
    answer = tolerate(service, draws=draws, seed=seed, percentiles=percents)
    assert (answer["draws"], answer["seed"]) == (draws, seed)
    numbers = uniform(seed, draws * len(TOLERANCES)).reshape(draws, len(TOLERANCES))
    inputs = {
        pointer: planned(pointer) + size * (2 * numbers[:, place] - 1)
        for place, (pointer, size) in enumerate(TOLERANCES.items())}
    expected = results(inputs)
    kept = np.ones(draws, dtype=bool)
    for result in answer["results"]:
        values = expected[result["pointer"]]
        assert math.isclose(result["mean"], values.mean(), rel_tol=1e-11)
        assert math.isclose(result["standard_deviation"], values.std(ddof=1), rel_tol=1e-9)
        for percentile, value in zip(result["percentiles"], np.percentile(values, percents)):
            assert math.isclose(percentile["value"], value, rel_tol=1e-11)
        limits = LIMITS.get(result["pointer"])
        if limits:
            inside = (values >= limits.get("at_least", -np.inf)) & (values <= limits.get("at_most", np.inf))
            assert math.isclose(result["chance_within"], 100 * inside.mean(), abs_tol=1e-9)
            assert 1 < result["chance_within"] < 99, "a limit that says nothing"
            kept &= inside
        else:
            assert "chance_within" not in result
    assert math.isclose(answer["chance_within_all"], 100 * kept.mean(), abs_tol=1e-9)


SWEEP = {
    "build": BUILD,
    "inputs": [{"pointer": "/cylinder_head/chamber_volume", "from": 50, "to": 60, "step": 2.5},
               {"pointer": "/camshaft/intake_closes_abdc", "values": [40, "55 deg", 70]}],
    "results": WATCHED}


def test_a_sweep_is_single_calls(service):
    answer = service.post("/v1/builds/sweep", SWEEP)
    chambers, closings = np.linspace(50, 60, 5), [40, 55, 70]
    assert len(answer["rows"]) == 15
    for row, (chamber, closing) in zip(answer["rows"], itertools.product(chambers, closings)):
        values = {"/cylinder_head/chamber_volume": chamber, "/camshaft/intake_closes_abdc": closing}
        assert row["inputs"] == pytest.approx([chamber, closing], rel=1e-14)
        single = service.post("/v1/builds/evaluate", with_values(values))
        expected = results(values)
        for pointer, value in zip(WATCHED, row["results"]):
            found = single
            for name in pointer[1:].split("/"):
                found = found[name]
            assert math.isclose(value, found, rel_tol=1e-14), pointer
            assert math.isclose(value, expected[pointer], rel_tol=1e-11), pointer


def test_the_sweep_as_csv_is_the_same_table(service):
    answer = service.post("/v1/builds/sweep", SWEEP)
    request = urllib.request.Request(
        f"http://{service.address}/v1/builds/sweep/csv", json.dumps(SWEEP).encode(), {"Content-Type": "application/json"})
    with urllib.request.urlopen(request) as response:
        assert response.headers["Content-Type"].startswith("text/csv")
        header, *rows = csv.reader(io.StringIO(response.read().decode()))
    assert header[0] == "cylinder_head.chamber_volume [cc]" and header[-1] == "error"
    assert [[float(cell) for cell in row[:-1]] for row in rows] == [row["inputs"] + row["results"] for row in answer["rows"]]


def test_a_refused_row_says_why_in_both_forms(service):
    request = {**SWEEP, "inputs": [{"pointer": "/block/bore", "values": [95, 2000]}]}
    fine, refused = service.post("/v1/builds/sweep", request)["rows"]
    assert "error" not in fine and refused["results"] == [] and "block.bore" in refused["error"]


def test_all_places_are_listed_with_their_units(service):
    places = json.loads(service.get("/v1/builds/places"))
    units = {place["pointer"]: place["unit"] for place in places["inputs"] + places["results"]}
    assert units["/block/bore"] == {"inch": "in", "metric": "mm"}
    assert units["/geometry/label_difference_percent"] == {"inch": "%", "metric": "%"}
    document = json.loads(service.get("/openapi.json"))
    schemas = document["components"]["schemas"]
    assert {**schemas["InputPointer"]["x-pointers"], **schemas["ResultPointer"]["x-pointers"]} == units
