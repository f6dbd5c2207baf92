"""Builds side by side: completeness by deepdiff, which knows nothing of engines; consequences worked out from single answers."""

import copy
import json
import math
import re

import pytest
from deepdiff import DeepDiff

from conftest import ROOT

RULE = {"name": "narrow", "pointer": "/compression/trapped_ratio", "at_least": 8.9, "at_most": 9.1, "severity": "caution",
        "text": "Ask for the fuel."}
# Widths of the usual ranges as the cautions state them, in the units of the inch system.
USUAL = {
    "/geometry/rod_stroke_ratio": 0.5, "/geometry/deck_clearance": 0.33, "/geometry/squish_clearance": 0.025,
    "/geometry/mean_piston_speed": 25 / 0.3048 * 60, "/compression/static_ratio": 4.0,
}


def demo():
    build = json.loads((ROOT / "fixtures" / "builds" / "beach_racer_v8.json").read_text())
    build["measured"] = {"chamber_volumes": [72, 72.2, 71.9, 72.1, 72, 71.8, 72.3, 72], "deck_heights": [9.8] * 8}
    return build


def changed(**sections):
    build = demo()
    for section, fields in sections.items():
        build[section] = {**build.get(section, {}), **fields}
    return build


VARIANTS = {
    "cut decks": changed(block={"deck_height": 9.785}),
    "another camshaft": changed(camshaft={"intake_closes_abdc": 41, "seat_difference": 30}),
    "bored": changed(block={"bore": "107 mm"}, head_gasket={"bore": 4.3}),
    "all at once": changed(
        block={"bore": 4.2, "deck_height": 9.79}, crankshaft={"stroke": 3.98}, connecting_rod={"length": 6.52},
        piston={"dome_volume": 4, "dish_volume": 1, "pin_offset": 0.04}, cylinder_head={"chamber_volume": 70.2},
        running={"engine_speed": 7000}, atmosphere={"altitude": 900, "intake_temperature": 60},
        measured={"chamber_volumes": [70.2, 70.4, 70.1, 70.3, 70.2, 70, 70.5, 70.2]}),
    "one reading": changed(measured={"chamber_volumes": [72, 72.2, 71.9, 72.1, 72, 71.8, 72.3, 72.6]}),
}


def compare(service, new, **more):
    request = {"units": "inch", "builds": [{"name": "old", "build": demo()}, {"name": "new", "build": new}], **more}
    return service.post("/v1/builds/compare", request)["comparisons"][0]


def paths(old, new):
    """JSON Pointers of the numbers that deepdiff finds changed."""
    found = DeepDiff(old, new, ignore_numeric_type_changes=True).get("values_changed", {})
    return {re.sub(r"\['?([^'\]]+)'?\]", r"/\1", path.removeprefix("root")) for path in found}


def in_inches(build):
    """The sheet with every text that is a quantity as the number the service reads."""
    build = copy.deepcopy(build)
    for section in build.values():
        for name, value in section.items() if isinstance(section, dict) else ():
            if isinstance(value, str) and value.endswith((" mm", " in")):
                section[name] = float(value[:-3]) / (25.4 if value.endswith("mm") else 1)
    return build


@pytest.mark.parametrize("name", VARIANTS)
def test_nothing_that_differs_is_left_out(service, name):
    old, new = demo(), VARIANTS[name]
    answers = [service.post("/v1/builds/evaluate", build) for build in (old, new)]
    for answer in answers:
        # Texts with figures in them, and not numbers of the engine.
        del answer["cautions"], answer["missing"]
    differences = compare(service, new)["differences"]
    by = {about: {one["pointer"]: one for one in differences if one["about"] == about} for about in ("answer", "request")}
    # The readings' own numbers, and an input that is absent in the sheet is the default.
    for path in paths(*answers) ^ set(by["answer"]):
        values = [value(answer, path) for answer in answers]
        assert math.isclose(*values, rel_tol=1e-12, abs_tol=1e-12), f"{path}: {values}"
    defaults = {"dish_volume": 0, "pin_offset": 0}
    sheets = [in_inches(build) for build in (old, new)]
    for sheet in sheets:
        sheet["piston"] = {**defaults, **sheet["piston"]}
    assert set(by["request"]) == paths(*sheets)
    for one in differences:
        source = answers if one["about"] == "answer" else sheets
        before, after = (value(document, one["pointer"]) for document in source)
        assert math.isclose(one["old"], before, rel_tol=1e-12, abs_tol=1e-15), one
        assert math.isclose(one["new"], after, rel_tol=1e-12, abs_tol=1e-15), one
        assert math.isclose(one["difference"], after - before, rel_tol=1e-6), one
        if one["unit"] != "degF":
            assert before == 0 or math.isclose(one["relative"], (after - before) / abs(before), rel_tol=1e-6), one


def value(document, pointer):
    for part in pointer.strip("/").split("/"):
        document = document[int(part)] if isinstance(document, list) else document[part]
    return document


def share(pointer, old, new, reference, rules):
    """The consequence of a change of one result, by its definition."""
    width = max(abs(old), abs(new))
    if pointer.startswith("/compression/volumes/"):
        width = value(reference, "/compression/clearance_volume")
    elif pointer == "/geometry/label_difference_percent":
        width = 100
    elif pointer.endswith("_temperature"):
        width = max(old, new) + 459.67
    width = USUAL.get(pointer, width)
    if rules and pointer == RULE["pointer"]:
        width = RULE["at_most"] - RULE["at_least"]
    return abs(new - old) / width if new != old else 0


@pytest.mark.parametrize("rules", [[], [RULE]])
@pytest.mark.parametrize("name", VARIANTS)
def test_the_order_is_that_of_the_consequences(service, name, rules):
    found = compare(service, VARIANTS[name], rules=rules)
    old = service.post("/v1/builds/evaluate", demo())
    crossed = {one["pointer"].removeprefix("#") for one in found["cautions_gained"] + found["cautions_lost"]
               if one["about"] == "answer"}
    places = [place["pointer"] for place in json.loads(service.get("/v1/builds/places"))["results"]]
    ranks = []
    for one in found["differences"]:
        pointer = one["pointer"]
        cylinder = pointer.startswith("/compression/cylinders/")
        if one["about"] == "answer":
            like = re.sub(r"/compression/cylinders/\d+/", "/compression/", pointer).replace(
                "/compression/deck_clearance", "/geometry/deck_clearance")
            expected, furthest = share(like, one["old"], one["new"], old, rules), pointer
        else:
            section, field, *place = pointer.strip("/").split("/")
            alone = demo()
            if place:
                alone[section][field][int(place[0])] = one["new"]
            else:
                alone[section][field] = one["new"]
            answer = service.post("/v1/builds/evaluate", alone)
            shares = {path: share(path, value(old, path), value(answer, path), old, rules) for path in places
                      if path != "/geometry/label_difference_percent"}
            furthest, expected = max(shares.items(), key=lambda item: item[1])
        assert math.isclose(one["consequence"]["share"], expected, rel_tol=1e-6, abs_tol=1e-12), one
        if one["about"] == "answer" or expected > 0:
            reached = one["consequence"]["result"]
            assert reached == furthest or math.isclose(shares[reached], expected, rel_tol=1e-6), one
        assert one["crosses_limit"] == (pointer in crossed)
        kind = (1 if cylinder else 0) if one["about"] == "answer" else (3 if "/measured/" in pointer else 2)
        ranks.append((not one["crosses_limit"], kind, -one["consequence"]["share"]))
    assert ranks == sorted(ranks)
    assert len(ranks) >= 2
