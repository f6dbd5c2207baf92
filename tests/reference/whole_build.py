"""A whole build in a few lines of numpy, for the comparisons of goal, tolerance and sweep: numbers, arrays, or numbers with
uncertainty. Millimetres, cubic centimetres, degrees, rev/min."""

import copy
import math

import numpy as np
from uncertainties import unumpy

BUILD = {
    "units": "metric",
    "engine": {"cylinders": 6, "layout": "inline"},
    "block": {"bore": 95.0, "deck_height": 240.0},
    "crankshaft": {"stroke": 88.0},
    "connecting_rod": {"length": 152.0},
    "piston": {"compression_height": 43.5, "dish_volume": 6.0, "dome_volume": 1.5, "pin_offset": 0.8,
               "top_land_height": 7.0, "top_land_diameter": 94.2},
    "cylinder_head": {"chamber_volume": 55.5},
    "head_gasket": {"bore": 97.0, "compressed_thickness": 1.1},
    "camshaft": {"intake_closes_abdc": 58.0},
    "running": {"engine_speed": 5200.0},
}


def with_values(values):
    """The build with other values at some pointers."""
    build = copy.deepcopy(BUILD)
    for pointer, value in values.items():
        section, field = pointer[1:].split("/")
        build[section][field] = value
    return build


def results(values, m=np):
    """Results by pointer; `values` are inputs by pointer, `m` numpy or uncertainties.unumpy."""
    def of(section, field):
        return values.get(f"/{section}/{field}", BUILD[section][field])

    bore, stroke, rod = of("block", "bore"), of("crankshaft", "stroke"), of("connecting_rod", "length")
    offset, crank = of("piston", "pin_offset"), of("crankshaft", "stroke") / 2
    sqrt, sin, cos = m.sqrt, m.sin, m.cos
    top = sqrt((rod + crank) ** 2 - offset**2)
    bottom = sqrt((rod - crank) ** 2 - offset**2)
    area = math.pi / 4 * bore**2
    travel = top - bottom
    swept = area * travel / 1000
    deck = of("block", "deck_height") - top - of("piston", "compression_height")
    gasket = of("head_gasket", "compressed_thickness")
    clearance = (
        of("cylinder_head", "chamber_volume") + of("piston", "dish_volume") - of("piston", "dome_volume")
        + (math.pi / 4 * of("head_gasket", "bore") ** 2 * gasket + area * deck
           + (area - math.pi / 4 * of("piston", "top_land_diameter") ** 2) * of("piston", "top_land_height")) / 1000)
    # The crank angle counts from true top centre; a positive offset puts the pin beyond it.
    arcsin = m.arcsin
    angle = (180 + of("camshaft", "intake_closes_abdc")) * math.pi / 180 + arcsin(offset / (rod + crank))
    height = crank * cos(angle) + sqrt(rod**2 - (crank * sin(angle) - offset) ** 2)
    trapped = clearance + area * (top - height) / 1000
    return {
        "/geometry/displacement": of("engine", "cylinders") * swept,
        "/geometry/squish_clearance": deck + gasket,
        "/geometry/deck_clearance": deck,
        "/geometry/mean_piston_speed": 2 * travel * of("running", "engine_speed") / 60000,
        "/geometry/bore_stroke_ratio": bore / stroke,
        "/compression/static_ratio": 1 + swept / clearance,
        "/compression/clearance_volume": clearance,
        "/compression/trapped_ratio": trapped / clearance,
        "/compression/trapped_volume": trapped,
    }


def with_uncertainty(values):
    return results(values, unumpy)
