"""Every unit of every quantity against the pint library, and every spelling that the document offers."""

import json
import math
import re

import pint
import pytest

UNITS = pint.UnitRegistry()

# Spellings that pint writes differently.
PINT = {
    "in2": "inch**2", "sq in": "inch**2", "in3": "inch**3", "cu in": "inch**3", "ft/min": "foot/minute",
    "mm2": "mm**2", "cm2": "cm**2", "m2": "m**2", "mm3": "mm**3", "cm3": "cm**3", "m3": "m**3", "cc": "cm**3", "ml": "mL",
    "um": "micrometer", "thou": "milliinch", "mil": "milliinch", "litre": "L", "litres": "L", "liter": "L", "liters": "L",
    "rev/min": "revolution/minute", "rpm": "revolution/minute", "r/min": "revolution/minute", "1/min": "revolution/minute",
    "rev/s": "revolution/second", "deg": "degree", "degrees": "degree", "g": "standard_gravity", '"': "inch",
    "in": "inch", "inches": "inch", "°": "degree", "µm": "micrometer", "l": "L",
    "m/s2": "m/s**2", "ft/s2": "foot/s**2",
    "C": "degC", "°C": "degC", "F": "degF", "°F": "degF", "lbf/in2": "psi", "Btu/lb": "Btu_it/lb", ":1": "", "%": "percent",
}


def pint_unit(spelling):
    plain = spelling.replace("²", "2").replace("³", "3").replace("^", "")
    return UNITS(PINT.get(plain, plain)).units


def spellings(service, schema):
    document = json.loads(service.get("/openapi.json"))
    pattern = document["components"]["schemas"][schema]["oneOf"][1]["pattern"]
    return [text.replace("\\^", "^") for text in re.search(r"\\s\*\((.*)\)\?\\s", pattern).group(1).split("|")]


TRAPPED = {"units": "metric", "bore": 92, "stroke": 84, "rod_length": 146, "static_ratio": 10, "intake_closes_abdc": 60}
ISOTHERM = {
    "units": "metric", "ratio": 10, "gas_model": "polytropic", "polytropic_exponent": 1, "start_pressure": 1,
    "start_temperature": 20}

# A request, the field that takes the quantity, the answer's field that gives it back in the unit named.
ECHOES = {
    "LengthInput": ("/v1/geometry/displacement", {"units": "metric", "cylinders": 1, "stroke": 100}, "bore", "/bore", "mm", 100),
    "DisplacementInput": (
        "/v1/geometry/displacement", {"units": "metric", "cylinders": 1, "stroke": 100}, "displacement", "/displacement", "cm**3", 900),
    "PartVolumeInput": (
        "/v1/compression/static",
        {"units": "metric", "bore": 100, "stroke": 100, "gasket_bore": 100, "gasket_thickness": 1, "deck_clearance": 0},
        "chamber_volume", "/volumes/chamber", "cm**3", 80),
    "AreaInput": (
        "/v1/compression/static",
        {"units": "metric", "bore": 100, "stroke": 100, "chamber_volume": 80, "gasket_thickness": 10, "deck_clearance": 0},
        "gasket_area", "/volumes/gasket", "cm**2", 80),
    "AngleInput": (
        "/v1/geometry/piston-motion", {"units": "metric", "stroke": 80, "rod_length": 140, "step": 360, "to": 360}, "from",
        "/points/0/crank_angle", "degree", 30),
    "EngineSpeedInput": (
        "/v1/geometry/piston-motion", {"units": "metric", "stroke": 100, "rod_length": 150}, "engine_speed",
        "/mean_piston_speed", "revolution/second", 50),
    "AltitudeInput": ("/v1/compression/trapped", TRAPPED, "altitude", "/charge/ambient_temperature", "m", 1000),
    "RatioInput": ("/v1/compression/trapped", TRAPPED, "static_ratio", "/static_ratio", "", 9.5),
    "TemperatureDifferenceInput": (
        "/v1/compression/trapped", {**TRAPPED, "altitude": 0, "intake_temperature": "0 degC"}, "charge_heating",
        "/charge/trapped_temperature", "delta_degC", 18),
    "TemperatureInput": ("/v1/compression/end-state", ISOTHERM, "start_temperature", "/end_temperature", "degC", 35),
    "PressureInput": ("/v1/compression/end-state", ISOTHERM, "start_pressure", "/end_pressure", "bar", 2.5),
    "SpecificEnergyInput": (
        "/v1/compression/knock-margin",
        {"units": "metric", "stroke": 90, "rod_length": 140, "static_ratio": 9, "intake_closes_abdc": 60, "trapped_pressure": 1,
         "trapped_temperature": 60, "spark_advances": [20], "engine_speeds": [3000]},
        "heating_value", "/parameters/heating_value", "MJ/kg", 42.5),
}

# What the answer holds where it is not the size itself.
ANSWERS = {
    "EngineSpeedInput": 2 * 0.1 * 50,  # mean piston speed of a 0.1 m stroke
    "AltitudeInput": 15 - 0.0065 * 1000,  # the standard atmosphere's temperature
    "PressureInput": 10 * 2.5,  # ten times the pressure in a tenth of the volume
}


def at(answer, pointer):
    for key in pointer.strip("/").split("/"):
        answer = answer[int(key)] if isinstance(answer, list) else answer[key]
    return answer


@pytest.mark.parametrize("schema", ECHOES)
def test_every_spelling_means_what_pint_says(service, schema):
    path, request, field, pointer, unit, size = ECHOES[schema]
    found = spellings(service, schema)
    assert len(found) >= 2
    for spelling in found:
        target = pint_unit(spelling)
        if schema == "TemperatureDifferenceInput" and target != UNITS.kelvin:
            target = UNITS(f"delta_{target}").units
        value = UNITS.Quantity(size, unit).to(target).magnitude
        answer = at(service.post(path, {**request, field: f"{value!r} {spelling}"}), pointer)
        assert math.isclose(answer, ANSWERS.get(schema, size), rel_tol=1e-12), spelling


def test_answers_in_inches_and_millimetres_are_the_same_engine(service):
    request = {"cylinders": 8, "bore": "4.25 in", "stroke": "4.125 in"}
    inch = service.post("/v1/geometry/displacement", {"units": "inch", **request})
    metric = service.post("/v1/geometry/displacement", {"units": "metric", **request})
    assert math.isclose((inch["displacement"] * UNITS.inch**3).to("cm**3").magnitude, metric["displacement"], rel_tol=1e-12)
    motion = {"stroke": "4 in", "rod_length": "6 in", "engine_speed": 3000}
    inch = service.post("/v1/geometry/piston-motion", {"units": "inch", **motion})
    metric = service.post("/v1/geometry/piston-motion", {"units": "metric", **motion})
    for field, [inch_unit, metric_unit] in {
        "mean_piston_speed": ["ft/min", "m/s"],
        "peak_piston_speed": ["ft/min", "m/s"],
        "peak_piston_acceleration": ["ft/s2", "m/s2"],
    }.items():
        converted = (inch[field] * pint_unit(inch_unit)).to(pint_unit(metric_unit)).magnitude
        assert math.isclose(converted, metric[field], rel_tol=1e-12), field
