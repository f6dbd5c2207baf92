"""Chambers, readings of single cylinders and wanted ratios against numpy and scipy."""

import math

import numpy as np
import pytest
from scipy import optimize
from scipy.integrate import dblquad, quad

STATIC = {
    "units": "metric", "bore": 95, "stroke": 88, "chamber_volume": 61.5, "gasket_bore": 97, "gasket_thickness": 1.3,
    "deck_clearance": 0.4, "dish_volume": 12, "dome_volume": 3, "top_land_height": 7, "top_land_diameter": 94.2}


def test_equalising_is_the_least_total_change(service):
    """The common volume that needs the least change in all, found by a search instead of the median."""
    chambers, decks = [61.2, 62.9, 61.6, 61.4, 60.8, 61.5], [0.4, 0.42, 0.35, 0.4, 0.41, 0.44]
    readings = [{"chamber_volume": chamber, "deck_clearance": deck} for chamber, deck in zip(chambers, decks)]
    spread = service.post("/v1/compression/static", {**STATIC, "readings": readings})["spread"]
    alone = [service.post("/v1/compression/static", {**STATIC, **reading}) for reading in readings]
    volumes = np.array([one["clearance_volume"] for one in alone])
    ratios = np.array([one["static_ratio"] for one in alone])
    assert np.allclose([one["static_ratio"] for one in spread["cylinders"]], ratios, rtol=1e-12)
    assert math.isclose(spread["ratio_spread"], np.ptp(ratios), rel_tol=1e-9)
    assert spread["outlier"]["cylinder"] == 1 + np.argmax(abs(ratios - np.median(ratios)))
    assert spread["outlier"]["item"] == "chamber"
    total = lambda common: abs(common - volumes).sum()
    least = min(total(common) for common in np.linspace(volumes.min(), volumes.max(), 10001))
    changes = np.array([one["chamber_change"] for one in spread["cylinders"]])
    assert abs(changes).sum() <= least + 1e-9
    equal = [{**reading, "chamber_volume": reading["chamber_volume"] + change} for reading, change in zip(readings, changes)]
    again = service.post("/v1/compression/static", {**STATIC, "readings": equal})["spread"]
    assert again["ratio_spread"] < 1e-9
    assert math.isclose(again["equalised_ratio"], spread["equalised_ratio"], rel_tol=1e-12)


def test_a_cut_is_the_integral_of_the_levels(service):
    depths, areas = [0, 0.4, 1.1, 1.9, 3.0], [6400, 6210, 6250, 5800, 5100]
    levels = [{"depth": depth, "area": area} for depth, area in zip(depths, areas)]
    for cut in [0.25, 1.1, 2.7]:
        answer = service.post("/v1/compression/flat-mill", {"units": "metric", "levels": levels, "cut": cut})
        volume = quad(lambda depth: np.interp(depth, depths, areas), 0, cut, points=[at for at in depths if at < cut])[0] / 1000
        assert math.isclose(answer["volume_removed"], volume, rel_tol=1e-9)
        back = service.post("/v1/compression/flat-mill", {"units": "metric", "levels": levels, "volume_removed": volume})
        assert math.isclose(back["cut"], cut, rel_tol=1e-9)


@pytest.mark.parametrize("angle", [-10, 0, 12, 35])
def test_a_round_opening_is_a_frustum(service, angle):
    """A circle of two half-circle arcs with a leaning wall, against the body of revolution integrated numerically."""
    outline = [{"x": -40, "y": 5, "arc_radius": 40}, {"x": 40, "y": 5, "arc_radius": 40}]
    answer = service.post("/v1/compression/flat-mill", {
        "units": "metric", "outline": outline, "wall_angle": angle, "wall_depth": 6, "cut": 6})
    radius = lambda depth: 40 - depth * math.tan(math.radians(angle))
    assert math.isclose(answer["volume_removed"], quad(lambda depth: math.pi * radius(depth) ** 2, 0, 6)[0] / 1000, rel_tol=1e-6)
    assert math.isclose(answer["area_at_face"], math.pi * 1600, rel_tol=1e-12)


UNKNOWNS = {
    "chamber": ("chamber_volume", 20, 200), "dish": ("dish_volume", 0, 90), "dome": ("dome_volume", 0, 60),
    "gasket_thickness": ("gasket_thickness", 0, 9), "gasket_bore": ("gasket_bore", 5, 300),
    "deck_clearance": ("deck_clearance", -2, 9), "stroke": ("stroke", 20, 200), "bore": ("bore", 94.5, 200)}


@pytest.mark.parametrize("unknown", UNKNOWNS)
@pytest.mark.parametrize("ratio", [9.05, 9.4])
def test_the_part_is_where_a_root_finder_puts_it(service, unknown, ratio):
    field, low, high = UNKNOWNS[unknown]

    def gap(value):
        parts = {**STATIC, field: value}
        area = math.pi / 4 * parts["bore"] ** 2
        clearance = (parts["chamber_volume"] + parts["dish_volume"] - parts["dome_volume"]) * 1000 + (
            math.pi / 4 * parts["gasket_bore"] ** 2 * parts["gasket_thickness"] + area * parts["deck_clearance"]
            + (area - math.pi / 4 * parts["top_land_diameter"] ** 2) * parts["top_land_height"])
        return area * parts["stroke"] - (ratio - 1) * clearance

    request = {name: value for name, value in STATIC.items() if name != field}
    answer = service.post("/v1/compression/target", {**request, "target_ratio": ratio, "unknown": unknown})
    assert math.isclose(answer[field], optimize.brentq(gap, low, high, xtol=1e-13, rtol=1e-14), rel_tol=1e-9, abs_tol=1e-9)
    assert math.isclose(answer["static_ratio"], ratio, rel_tol=1e-12)
    back = service.post("/v1/compression/static", {**request, field: answer[field]})
    assert math.isclose(back["static_ratio"], ratio, rel_tol=1e-12)
    assert math.isclose(answer["squish_clearance"], answer["deck_clearance"] + answer["gasket_thickness"], rel_tol=1e-12)


def test_compression_height_and_head_cut_reach_the_ratio(service):
    request = {name: value for name, value in STATIC.items() if name != "deck_clearance"}
    answer = service.post("/v1/compression/target", {
        **request, "target_ratio": 9.2, "unknown": "compression_height", "pin_to_deck": 33})
    assert math.isclose(answer["compression_height"] + answer["deck_clearance"], 33, rel_tol=1e-12)
    back = service.post("/v1/compression/static", {**request, "deck_clearance": 33 - answer["compression_height"]})
    assert math.isclose(back["static_ratio"], 9.2, rel_tol=1e-12)
    depths, areas = [0, 1, 2.5], [6800, 6500, 5200]
    answer = service.post("/v1/compression/target", {
        **STATIC, "target_ratio": 9.6, "unknown": "head_cut",
        "head_levels": [{"depth": depth, "area": area} for depth, area in zip(depths, areas)]})
    removed = quad(lambda depth: np.interp(depth, depths, areas), 0, answer["head_cut"], points=[1])[0] / 1000
    assert math.isclose(answer["chamber_volume"], STATIC["chamber_volume"] - removed, rel_tol=1e-9)
    assert math.isclose(answer["static_ratio"], 9.6, rel_tol=1e-12)


def measured(service, kind, **fields):
    return service.post("/v1/compression/measured-volume", {"units": "metric", "kind": kind, **fields})


def test_dishes_are_the_integrated_bodies(service):
    turned = lambda radius, depth: quad(lambda at: math.pi * radius(at) ** 2, 0, depth)[0] / 1000
    answer = measured(service, "frustum_dish", diameter=70, floor_diameter=58, depth=4)
    assert math.isclose(answer["volume"], turned(lambda at: 35 - 6 * at / 4, 4), rel_tol=1e-10)
    assert math.isclose(measured(service, "cylinder_dish", diameter=70, depth=4, count=2)["volume"], 2 * turned(lambda _: 35, 4), rel_tol=1e-10)
    for depth in [0.5, 6, 30]:
        sphere = (30**2 + depth**2) / (2 * depth)
        radius = lambda at: math.sqrt(max(0, sphere**2 - (sphere - depth + at) ** 2))
        assert math.isclose(measured(service, "cap_dish", diameter=60, depth=depth)["volume"], turned(radius, depth), rel_tol=1e-9)


@pytest.mark.parametrize("tilt, depth", [(0, 3), (4, 1), (4, 6), (12, 3), (25, 8), (60, 5)])
def test_a_leaning_relief_is_the_integrated_body(service, tilt, depth):
    """Depth of the floor below the crown over the tool's disc, integrated in two dimensions."""
    radius, lean = 21.0, math.radians(tilt)
    height = lambda x: max(0.0, depth / math.cos(lean) - (radius - x) * math.tan(lean))
    begin = max(-radius, radius - depth / math.cos(lean) / math.tan(lean)) if tilt else -radius
    edge = lambda x: math.sqrt(max(0.0, radius**2 - x**2))
    volume = dblquad(lambda y, x: height(x), begin, radius, lambda x: -edge(x), edge, epsabs=1e-6, epsrel=1e-10)[0] / 1000
    assert math.isclose(measured(service, "valve_relief", diameter=42, depth=depth, tilt=tilt)["volume"], volume, rel_tol=1e-6)


@pytest.mark.parametrize("offset", [0, 12, 28, 30, 47, 66])
def test_a_pocket_is_the_area_inside_both_circles(service, offset):
    bore, pocket = 95.0, 39.0
    half = lambda x, radius, centre: math.sqrt(max(0.0, radius**2 - (x - centre) ** 2))
    width = lambda x: 2 * min(half(x, bore / 2, 0), half(x, pocket / 2, offset))
    low, high = max(-bore / 2, offset - pocket / 2), min(bore / 2, offset + pocket / 2)
    area = quad(width, low, high, limit=500, epsrel=1e-10)[0]
    answer = measured(service, "offset_pocket", bore=bore, diameter=pocket, depth=2.5, offset=offset)
    assert math.isclose(answer["area"], area, rel_tol=1e-6)
    assert math.isclose(answer["volume"], area * 2.5 / 1000, rel_tol=1e-6)


def test_a_traced_opening_is_the_area_by_greens_theorem(service):
    """Lines and arcs of a siamesed opening, walked in small steps: the integral of (x dy - y dx)/2."""
    corners = [(-45, -10, 40, True), (-45, 12, 60, False), (0, 52, None, False), (38, 44, 30, False), (50, -8, None, False), (5, -50, 52, False)]
    path = []
    for (x, y, radius, inwards), (to_x, to_y, _, _) in zip(corners, corners[1:] + corners[:1]):
        start, end = complex(x, y), complex(to_x, to_y)
        steps = np.linspace(0, 1, 20001)[:-1]
        if radius is None:
            path.append(start + steps * (end - start))
            continue
        # These corners run clockwise: outwards is to the left of the way, so the centre of an outward arc is to its right.
        side = 1j if inwards else -1j
        chord = end - start
        centre = (start + end) / 2 + side * chord / abs(chord) * math.sqrt(radius**2 - abs(chord) ** 2 / 4)
        sweep = np.angle((end - centre) / (start - centre))
        path.append(centre + (start - centre) * np.exp(1j * sweep * steps))
    path = np.concatenate(path)
    following = np.roll(path, -1)
    area = abs((path.conj() * following).imag.sum()) / 2
    outline = [
        {"x": x, "y": y, **({"arc_radius": radius, "arc_inwards": inwards} if radius else {})} for x, y, radius, inwards in corners]
    answer = measured(service, "gasket_opening", outline=outline, gasket_thickness=1.2)
    assert math.isclose(answer["area"], area, rel_tol=1e-8)
    assert math.isclose(answer["volume"], area * 1.2 / 1000, rel_tol=1e-8)


def test_poured_volumes_are_what_is_left_of_the_liquid(service):
    turned = lambda diameter, height: quad(lambda _: math.pi / 4 * diameter**2, 0, height)[0] / 1000
    hole = turned(6.35, 9.5)
    answer = measured(service, "poured_chamber", poured_volume=64.2, fill_hole_diameter=6.35, plate_thickness=9.5)
    assert math.isclose(answer["volume"], 64.2 - hole, rel_tol=1e-10)
    above = turned(105.5, 6.35) + turned(105.5, 7) - turned(104.6, 7) + hole
    piston = {"bore": 105.5, "lowered_by": 6.35, "fill_hole_diameter": 6.35, "plate_thickness": 9.5, "top_land_height": 7, "top_land_diameter": 104.6}
    dished = measured(service, "lowered_piston", poured_volume=above + 11, **piston)
    domed = measured(service, "lowered_piston", poured_volume=above - 8, **piston)
    assert math.isclose(dished["dish_volume"], 11, rel_tol=1e-9) and dished["dome_volume"] == 0
    assert math.isclose(domed["dome_volume"], 8, rel_tol=1e-9) and domed["dish_volume"] == 0
    land = measured(service, "top_land", bore=105.5, top_land_height=7, top_land_diameter=104.6)
    assert math.isclose(land["volume"], turned(105.5, 7) - turned(104.6, 7), rel_tol=1e-9)
