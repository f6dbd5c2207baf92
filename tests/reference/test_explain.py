"""Explanations of a build: the printed equations worked out by pint, the sensitivities by uncertainties and by scipy.

pint works out the printed right-hand side with its units, so that a wrong factor, unit or number shows. uncertainties
differentiates the textbook equations, written down here once more; scipy differentiates the service itself.
"""

import ast
import copy
import json
import math
import operator
import re

import numpy as np
import pint
import pytest
from scipy.differentiate import derivative
from uncertainties import ufloat, umath

from conftest import ROOT

BUILDS = {path.stem: json.loads(path.read_text()) for path in sorted((ROOT / "fixtures" / "builds").glob("*.json"))}
# What the demo builds do not have: an offset pin at speed, an end of compression above 1000 K, thin air, a gasket's area.
BUILDS["diesel with everything"] = {
    "units": "metric",
    "engine": {"cylinders": 4, "layout": "inline", "label_displacement": "2.5 L"},
    "block": {"bore": 92, "deck_height": 228.15},
    "crankshaft": {"stroke": 94},
    "connecting_rod": {"length": 148},
    "piston": {"compression_height": 32.7, "pin_offset": 1.1, "dish_volume": 18, "dome_volume": 1.5},
    "cylinder_head": {"chamber_volume": 3.5},
    "head_gasket": {"opening_area": 6900, "compressed_thickness": 1.2},
    "camshaft": {"intake_closes_abdc": 20, "at_lift": 1, "seat_difference": 12},
    "running": {"engine_speed": 4200},
    "atmosphere": {"altitude": 1600},
    "measured": {"chamber_volumes": [3.4, 3.5, 3.6, 3.5]},
}
BUILDS["high up"] = {**BUILDS["beach_racer_v8"], "atmosphere": {"altitude": "13 km", "intake_temperature": -50}}
BUILDS["offset in inches"] = copy.deepcopy(BUILDS["beach_racer_v8"])
BUILDS["offset in inches"]["piston"]["pin_offset"] = 0.06

registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
registry.define("rev = revolution")
# A number and, behind a blank, its unit, in brackets of their own.
NUMBER = re.compile(r"\((-?\d+(?:\.\d+)?(?:e-?\d+)?)(?: ([A-Za-z0-9/]+(?:\([A-Za-z ]+\))?))?\)")
UNITS = {"1": "", "%": "percent"}


def unit(text):
    return registry.Unit(UNITS.get(text, re.sub(r"([A-Za-z])(\d)", r"\1**\2", text)))


def plain(value):
    """A quantity without dimension as a number, angles in radians."""
    return value.to("").magnitude if isinstance(value, registry.Quantity) else value


def power(base, exponent):
    return base ** plain(exponent)


def add(sign):
    def added(a, b):
        bare = not (isinstance(a, registry.Quantity) and isinstance(b, registry.Quantity))
        return sign(plain(a), plain(b)) if bare else sign(a, b)

    return added


OPERATORS = {
    ast.Add: add(operator.add), ast.Sub: add(operator.sub), ast.Mult: operator.mul, ast.Div: operator.truediv,
    ast.Pow: power, ast.USub: operator.neg,
}
FUNCTIONS = {name: (lambda f: lambda x: f(plain(x)))(function) for name, function in {
    "sin": math.sin, "cos": math.cos, "asin": math.asin, "acos": math.acos, "exp": math.exp, "ln": math.log}.items()}
FUNCTIONS |= {"sqrt": lambda x: x**0.5, "min": min, "max": max}


def work_out(node, numbers):
    match node:
        case ast.Expression():
            return work_out(node.body, numbers)
        case ast.BinOp():
            return OPERATORS[type(node.op)](work_out(node.left, numbers), work_out(node.right, numbers))
        case ast.UnaryOp():
            return OPERATORS[type(node.op)](work_out(node.operand, numbers))
        case ast.Call():
            return FUNCTIONS[node.func.id](*(work_out(argument, numbers) for argument in node.args))
        case ast.Name(id="pi"):
            return math.pi
        case ast.Name():
            return numbers[int(node.id.removeprefix("number"))]
        case ast.Constant():
            return node.value
    raise AssertionError(ast.dump(node))


def parse(text):
    """The tree of a printed right-hand side, its numbers with their units, and half the last digit of each."""
    found = NUMBER.findall(text)
    counter = iter(range(len(found)))
    replaced = NUMBER.sub(lambda _: f"(number{next(counter)})", text).replace("^", "**")
    # Ten significant digits are printed, so that half a digit of the tenth is unknown; zeros at the end are left out.
    halves = [0.5 * 10 ** (math.floor(math.log10(abs(float(figure)))) - 9) if float(figure) else 0 for figure, _ in found]
    numbers = [(float(figure), unit(symbol or "1")) for figure, symbol in found]
    return ast.parse(replaced, mode="eval"), numbers, halves


def in_unit(value, symbol):
    if not isinstance(value, registry.Quantity):
        value = registry.Quantity(value, "")
    return value.to(unit(symbol)).magnitude


def explained(service, build):
    return service.post("/v1/builds/evaluate", {**build, "explain": True})


@pytest.mark.parametrize("name", BUILDS)
def test_the_printed_equations_give_the_results(service, name):
    answer = explained(service, BUILDS[name])
    assert len(answer["explanations"]) >= 17
    for one in answer["explanations"]:
        tree, numbers, halves = parse(one["put_in"])

        def value(changed=None):
            figures = [figure + (halves[index] if index == changed else 0) for index, (figure, _) in enumerate(numbers)]
            return in_unit(
                work_out(tree, [registry.Quantity(figure, symbol) for figure, (_, symbol) in zip(figures, numbers)]),
                one["unit"])

        found = value()
        # What the printed digits leave open, and the rounding of the arithmetic itself.
        within = sum(abs(value(index) - found) for index in range(len(numbers))) + 1e-12 * abs(found) + 1e-13
        assert abs(found - one["value"]) <= within, f"{one['pointer']}: {one['put_in']} is {found}, not {one['value']}"


def test_a_wrong_number_in_an_equation_is_noticed(service):
    """The check above can fail: almost any printed number that is moved in its fourth digit spoils its result."""
    answer = explained(service, BUILDS["diesel with everything"])
    noticed, moved_numbers = 0, 0
    for one in answer["explanations"]:
        tree, numbers, _ = parse(one["put_in"])
        quantities = [registry.Quantity(figure, symbol) for figure, symbol in numbers]
        for index, quantity in enumerate(quantities):
            if quantity.magnitude == 0 or "/peak_" in one["pointer"]:
                continue  # A peak does not feel a small change of its angle, nor much of a small offset.
            moved = [other * (1 + 1e-4 * (place == index)) for place, other in enumerate(quantities)]
            change = in_unit(work_out(tree, moved), one["unit"]) - one["value"]
            noticed += abs(change) > 1e-8 * abs(one["value"])
            moved_numbers += 1
    # The height of the tropopause does not matter below it, and an offset enters by its square.
    assert noticed > 0.85 * moved_numbers > 75


@pytest.mark.parametrize("name", BUILDS)
def test_the_named_parts_are_those_of_the_equation(service, name):
    """Symbols and parts, put in by hand, give the printed text but for brackets."""
    for one in explained(service, BUILDS[name])["explanations"]:
        first, *parts = one["equation"].split("; ")
        known = {symbol["symbol"]: f"({symbol['value']})" for symbol in one["symbols"]}
        known |= {part.split(" = ", 1)[0]: f"({part.split(' = ', 1)[1]})" for part in parts}

        def put(text):
            return re.sub(r"[A-Za-z_]\w*", lambda word: put(known[word[0]]) if word[0] in known and not
                          known[word[0]][1:2].isdigit() and known[word[0]][1:2] != "-" else known.get(word[0], word[0]), text)

        assert put(first) == one["put_in"], one["pointer"]


def textbook(x):
    """The textbook equations in SI units, for numbers that carry their derivatives."""
    r, length, e = x["stroke"] / 2, x["rod"], x["offset"]
    top = umath.sqrt((length + r) ** 2 - e**2)
    travel = top - umath.sqrt((length - r) ** 2 - e**2)
    area = math.pi / 4 * x["bore"] ** 2
    deck = x["deck"] - top - x["crown"]
    gasket = math.pi / 4 * x["gasket_bore"] ** 2 * x["gasket"]
    land = math.pi / 4 * (x["bore"] ** 2 - x["land"] ** 2) * x["land_height"]
    clearance = x["chamber"] + gasket + area * deck + x["dish"] - x["dome"] + land
    t = math.pi + x["closes"] + x["later"] + umath.asin(e / (length + r))
    at_closing = top - r * umath.cos(t) - umath.sqrt(length**2 - (r * umath.sin(t) - e) ** 2)
    ratio = (clearance + area * at_closing) / clearance
    air = 101325 * (1 - 0.0065 * x["altitude"] / 288.15) ** (9.80665 / (0.0065 * 287.05287))
    return {
        "/geometry/displacement": 8 * area * travel,
        "/geometry/actual_stroke": travel,
        "/geometry/deck_clearance": deck,
        "/geometry/squish_clearance": deck + x["gasket"],
        "/geometry/mean_piston_speed": 2 * travel * x["speed"] / (2 * math.pi),
        "/compression/static_ratio": (area * travel + clearance) / clearance,
        "/compression/clearance_volume": clearance,
        "/compression/volumes/top_land": land,
        "/compression/trapped_ratio": ratio,
        "/compression/trapped_volume": ratio * clearance,
        "/compression/end_of_compression/start_pressure": air,
        "/compression/end_of_compression/density_ratio": air * 288.15 / (101325 * x["intake"]),
        "/compression/end_of_compression/cranking_gauge_pressure/low": air * (ratio**1.2 - 1),
    }


PLACES = {
    "bore": "/block/bore", "deck": "/block/deck_height", "stroke": "/crankshaft/stroke", "rod": "/connecting_rod/length",
    "crown": "/piston/compression_height", "offset": "/piston/pin_offset", "dish": "/piston/dish_volume",
    "dome": "/piston/dome_volume", "land": "/piston/top_land_diameter", "land_height": "/piston/top_land_height",
    "chamber": "/cylinder_head/chamber_volume", "gasket_bore": "/head_gasket/bore",
    "gasket": "/head_gasket/compressed_thickness", "closes": "/camshaft/intake_closes_abdc",
    "later": "/camshaft/seat_difference", "speed": "/running/engine_speed", "altitude": "/atmosphere/altitude",
    "intake": "/atmosphere/intake_temperature",
}


@pytest.mark.parametrize("name", ["beach_racer_v8", "offset in inches"])
def test_sensitivities_are_the_derivatives_of_the_textbook_equations(service, name):
    build = copy.deepcopy(BUILDS[name])
    build["piston"]["dish_volume"] = 3.2
    explanations = {one["pointer"]: one for one in explained(service, build)["explanations"]}
    inputs = {one["pointer"]: one for explanation in explanations.values() for one in explanation["inputs"]}
    # "per degF" of a temperature is per step, not per reading on a scale.
    step = {"degF": "delta_degF", "degC": "delta_degC"}
    values = {
        place: ufloat(registry.Quantity(inputs[pointer]["value"], unit(inputs[pointer]["unit"])).to_base_units().magnitude, 1)
        for place, pointer in PLACES.items()}
    compared = 0
    for pointer, result in textbook(values).items():
        one = explanations[pointer]
        si = registry.Quantity(1, unit(one["unit"])).to_base_units().magnitude
        assert math.isclose(result.nominal_value, one["value"] * si, rel_tol=1e-10), pointer
        slopes = {place: result.derivatives.get(values[place], 0.0) for place in PLACES}
        for place, slope in slopes.items():
            found = next((entry for entry in one["inputs"] if entry["pointer"] == PLACES[place]), None)
            if found is None:
                assert slope == 0, f"{pointer} depends on {PLACES[place]}"
                continue
            per = registry.Quantity(1, step.get(found["unit"], unit(found["unit"]))).to_base_units().magnitude
            expected = slope * per / si
            # A clearance is what is left of lengths as large as the deck height: their rounding is its own.
            size = inputs["/block/deck_height"]["value"] if one["unit"] == "in" else one["value"]
            scale = abs(size / found["value"]) if found["value"] else abs(expected)
            assert abs(found["sensitivity"] - expected) <= 1e-8 * abs(expected) + 1e-10 * scale, f"{pointer} by {place}"
            assert found["sensitivity_unit"] == f"{one['unit']} per {found['unit']}"
            compared += 1
    assert compared > 90


@pytest.mark.parametrize("name", ["lifeboat_v6", "diesel with everything"])
def test_sensitivities_are_the_slopes_of_the_service(service, name):
    """scipy's adaptive derivative of the service over HTTP, every result by every input."""
    build = copy.deepcopy(BUILDS[name])
    answer = explained(service, build)
    inputs = {one["pointer"]: one["value"] for explanation in answer["explanations"] for one in explanation["inputs"]}

    def results(pointer, values):
        section, field, *place = pointer.strip("/").split("/")
        requests = []
        for value in map(float, values):
            request = copy.deepcopy(build)
            if place:
                request[section][field][int(place[0])] = value
            else:
                request.setdefault(section, {})[field] = value
            requests.append({"request": request})
        items = service.post("/v1/builds/evaluate/batch", {"items": requests})["items"]
        return [item["result"] for item in items]

    def read(result, pointer):
        for part in pointer.strip("/").split("/"):
            result = result[int(part)] if isinstance(result, list) else result[part]
        return result

    compared = 0
    for pointer in inputs:
        # A count is whole, and nothing can be taken off a part that is not there.
        if pointer == "/engine/cylinders" or inputs[pointer] == 0:
            continue
        for one in answer["explanations"]:
            entry = next((entry for entry in one["inputs"] if entry["pointer"] == pointer), None)
            if entry is None:
                continue
            slope = derivative(
                lambda x: np.array([read(result, one["pointer"]) for result in results(pointer, np.ravel(x))]).reshape(
                    np.shape(x)), inputs[pointer], initial_step=1e-3 * abs(inputs[pointer]), order=6, maxiter=2)
            scale = abs(one["value"] / inputs[pointer])
            assert abs(slope.df - entry["sensitivity"]) <= 1e-6 * abs(slope.df) + 1e-8 * scale, (
                f"{one['pointer']} by {pointer}: {entry['sensitivity']}, scipy {slope.df}")
            compared += 1
    assert compared > 80
