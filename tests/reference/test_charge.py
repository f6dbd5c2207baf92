"""The trapped charge: its state against Cantera and CoolProp, its closing against scipy."""

import itertools
import math
import warnings

import cantera
import CoolProp.CoolProp as coolprop
import pytest
from scipy import optimize

RATIOS = [6, 7, 8, 9, 10, 11, 12, 14, 16]
INTAKES = [-20, 0, 20, 50, 80]


def end_state(service, ratio, celsius, **more):
    return service.post("/v1/compression/end-state", {
        "units": "metric", "ratio": ratio, "start_temperature": celsius, "start_pressure": "101.325 kPa", **more})


@pytest.mark.parametrize("ratio, celsius", itertools.product(RATIOS, INTAKES))
def test_end_of_compression_is_that_of_cantera(service, ratio, celsius):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # below 300 K the polynomials of nitrogen are used outside their stated range
        air = cantera.Solution("air.yaml")
        air.TP = celsius + 273.15, 101325
        air.SV = air.entropy_mass, air.volume_mass / ratio
        temperature, pressure = air.T, air.P
    answer = end_state(service, ratio, celsius)
    assert math.isclose(answer["end_temperature"] + 273.15, temperature, rel_tol=1e-8)
    assert math.isclose(answer["end_pressure"] * 1e5, pressure, rel_tol=1e-8)


@pytest.mark.parametrize("ratio, celsius", itertools.product(RATIOS, INTAKES))
def test_real_air_is_above_ideal_air_by_what_the_note_says(service, ratio, celsius):
    start = {"T": celsius + 273.15, "P": 101325}
    density, entropy = (coolprop.PropsSI(what, "T", start["T"], "P", start["P"], "Air") for what in "DS")
    pressure, temperature = (coolprop.PropsSI(what, "D", density * ratio, "S", entropy, "Air") for what in "PT")
    answer = end_state(service, ratio, celsius)
    excess = pressure / (answer["end_pressure"] * 1e5) - 1
    assert 0.007 <= excess <= 0.029
    if celsius == 20 and 8 <= ratio <= 12:
        assert 0.0115 <= excess <= 0.0185
    assert 0.002 <= temperature / (answer["end_temperature"] + 273.15) - 1 <= 0.01
    [note] = [caution for caution in answer["cautions"] if caution["code"] == "real_air_differs"]
    assert "0.7 to 2.9 percent" in note["detail"]


def test_polytropic_compression_and_cranking_band_are_powers(service):
    answer = end_state(service, 8.5, 30, gas_model="polytropic", polytropic_exponent=1.32, ambient_pressure=0.95)
    assert math.isclose(answer["end_pressure"], 1.01325 * 8.5**1.32, rel_tol=1e-12)
    assert math.isclose(answer["end_temperature"] + 273.15, 303.15 * 8.5**0.32, rel_tol=1e-12)
    assert math.isclose(answer["mean_exponent"], 1.32, rel_tol=1e-12)
    for end, exponent in {"low": 1.2, "high": 1.3}.items():
        assert math.isclose(answer["cranking_gauge_pressure"][end], 0.95 * (8.5**exponent - 1), rel_tol=1e-12)
    assert len(answer["cranking_assumptions"]) >= 4


CYLINDERS = list(itertools.product([60.0, 86.0], [150.0, 190.0], [0.0, 1.5, -9.0], [5.0, 40.0, 75.0, 120.0]))


@pytest.mark.parametrize("stroke, rod, offset, closing", CYLINDERS)
def test_trapped_ratio_and_its_closing_are_those_found_by_search(service, stroke, rod, offset, closing):
    request = {"units": "metric", "bore": 92, "stroke": stroke, "rod_length": rod, "pin_offset": offset, "clearance_volume": 58}
    answer = service.post("/v1/compression/trapped", {**request, "intake_closes_abdc": closing, "at_lift": 1, "seat_difference": 22})

    def height(turn):
        return stroke / 2 * math.cos(turn) + math.sqrt(rod**2 - (stroke / 2 * math.sin(turn) - offset) ** 2)

    def slope(turn):
        across = stroke / 2 * math.sin(turn) - offset
        return -stroke / 2 * math.sin(turn) - across * stroke / 2 * math.cos(turn) / math.sqrt(rod**2 - across**2)

    top = optimize.brentq(slope, -0.5, 0.5, xtol=1e-15)
    bottom = optimize.brentq(slope, math.pi - 0.5, math.pi + 0.5, xtol=1e-15)

    def ratio(after_bottom):
        travel = height(top) - height(top + math.pi + math.radians(after_bottom))
        return 1 + math.pi / 4 * 9.2**2 * travel / 10 / 58

    assert math.isclose(answer["trapped_ratio"], ratio(closing + 22), rel_tol=1e-11)
    assert math.isclose(answer["ratio_at_stated_closing"], ratio(closing), rel_tol=1e-11)
    assert math.isclose(answer["bottom_centre_angle"], math.degrees(bottom - top), abs_tol=1e-9)
    wanted = ratio(closing + 22)
    found = optimize.brentq(lambda angle: ratio(angle) - wanted, 20, 160, xtol=1e-13)
    back = service.post("/v1/compression/trapped", {**request, "wanted_ratio": wanted, "at_lift": 1, "seat_difference": 22})
    assert math.isclose(back["seat_closing_abdc"], found, abs_tol=1e-8)
    assert math.isclose(back["stated_closing_abdc"], found - 22, abs_tol=1e-8)


def test_trapped_air_is_that_of_the_gas_law(service):
    request = {"units": "metric", "bore": 92, "stroke": 84, "rod_length": 146, "static_ratio": 10, "intake_closes_abdc": 60}
    answer = service.post("/v1/compression/trapped", {
        **request, "altitude": 1800, "intake_temperature": 30, "charge_heating": 25})["charge"]
    # Humid air is another matter: CoolProp's dry air differs from the ideal gas by a few parts in 10,000.
    density = coolprop.PropsSI("D", "P", answer["ambient_pressure"] * 1e5, "T", 273.15 + 55, "Air")
    assert math.isclose(answer["trapped_density"], density, rel_tol=1e-3)
    assert math.isclose(answer["density_ratio"], answer["trapped_density"] / 1.225, rel_tol=1e-6)
    assert math.isclose(answer["trapped_temperature"], 55, abs_tol=1e-9)


def test_a_build_gives_the_same_as_its_single_calculations(service):
    build = {
        "units": "inch", "engine": {"cylinders": 8, "layout": "vee"}, "block": {"bore": 4.155, "deck_height": 9.475},
        "crankshaft": {"stroke": 3.9}, "connecting_rod": {"length": 6.2},
        "piston": {"compression_height": 1.315, "dish_volume": 11, "pin_offset": 0.03}, "cylinder_head": {"chamber_volume": 70.5},
        "head_gasket": {"bore": 4.2, "compressed_thickness": 0.041},
        "camshaft": {"intake_closes_abdc": 41, "at_lift": 0.05, "seat_difference": 24},
        "atmosphere": {"altitude": 4300, "intake_temperature": 88}}
    compression = service.post("/v1/builds/evaluate", build)["compression"]
    trapped = service.post("/v1/compression/trapped", {
        "units": "inch", "bore": 4.155, "stroke": 3.9, "rod_length": 6.2, "pin_offset": 0.03,
        "clearance_volume": compression["clearance_volume"], **build["camshaft"], **build["atmosphere"]})
    assert math.isclose(compression["trapped_ratio"], trapped["trapped_ratio"], rel_tol=1e-12)
    assert math.isclose(compression["static_ratio"], trapped["static_ratio"], rel_tol=1e-12)
    end = service.post("/v1/compression/end-state", {
        "units": "inch", "ratio": trapped["trapped_ratio"], "start_pressure": trapped["charge"]["trapped_pressure"],
        "start_temperature": trapped["charge"]["trapped_temperature"]})
    section = compression["end_of_compression"]
    for field in ["end_pressure", "end_temperature"]:
        assert math.isclose(section[field], end[field], rel_tol=1e-10), field
    for bound in ["low", "high"]:
        assert math.isclose(section["cranking_gauge_pressure"][bound], end["cranking_gauge_pressure"][bound], rel_tol=1e-10)
    assert math.isclose(section["density_ratio"], trapped["charge"]["density_ratio"], rel_tol=1e-12)


def test_a_build_says_what_its_end_of_compression_needs(service):
    build = {
        "units": "metric", "engine": {"cylinders": 1, "layout": "inline"}, "block": {"bore": 88, "deck_height": 240},
        "crankshaft": {"stroke": 80}, "connecting_rod": {"length": 150}, "piston": {"compression_height": 49.5},
        "cylinder_head": {"chamber_volume": 50}, "head_gasket": {"bore": 89, "compressed_thickness": 1}}
    answer = service.post("/v1/builds/evaluate", build)
    needs = [note["needs"] for note in answer["missing"] if note["result"] == "#/compression/end_of_compression"]
    assert needs == ["#/camshaft/intake_closes_abdc", "#/atmosphere/altitude"]


def test_each_cylinder_of_a_build_is_a_build_of_its_own(service):
    build = {
        "units": "metric", "engine": {"cylinders": 3, "layout": "inline"}, "block": {"bore": 88, "deck_height": 240},
        "crankshaft": {"stroke": 80}, "connecting_rod": {"length": 150}, "piston": {"compression_height": 49.5, "pin_offset": 0.8},
        "cylinder_head": {"chamber_volume": 50}, "head_gasket": {"bore": 89, "compressed_thickness": 1}}
    chambers, decks = [50.4, 49.1, 50.9], [240.05, 239.9, 240.0]
    cases = [{"chamber_volumes": chambers}, {"deck_heights": decks}, {"chamber_volumes": chambers, "deck_heights": decks}]
    for measured in cases:
        found = service.post("/v1/builds/evaluate", {**build, "measured": measured})["compression"]
        ratios = []
        for index, cylinder in enumerate(found["cylinders"]):
            single = service.post("/v1/builds/evaluate", {
                **build,
                "cylinder_head": {"chamber_volume": measured.get("chamber_volumes", [50] * 3)[index]},
                "block": {"bore": 88, "deck_height": measured.get("deck_heights", [240] * 3)[index]}})
            assert cylinder["cylinder"] == index + 1
            assert math.isclose(cylinder["static_ratio"], single["compression"]["static_ratio"], rel_tol=1e-12)
            assert math.isclose(cylinder["clearance_volume"], single["compression"]["clearance_volume"], rel_tol=1e-12)
            assert math.isclose(cylinder["deck_clearance"], single["geometry"]["deck_clearance"], abs_tol=1e-10)
            ratios.append(cylinder["static_ratio"])
        assert math.isclose(found["ratio_spread"], max(ratios) - min(ratios), abs_tol=1e-12)
