"""Valve-to-piston clearance by drawing valve head and crown as points and lines and moving them until they touch."""

import itertools
import math

import numpy as np
import pytest
from scipy import optimize

DIAMETER = 40.0


def valve_edge(inclination, clearance, relief):
    """The two edge points of the valve's head, and the crown as a point and a normal, with `clearance` square to the crown."""
    axis = np.array([math.sin(inclination), -math.cos(inclination)])  # the way the valve opens
    across = np.array([axis[1], -axis[0]])
    edges = [DIAMETER / 2 * across, -DIAMETER / 2 * across]
    normal = -axis if relief else np.array([0.0, 1.0])
    lowest = min(edges, key=lambda edge: edge @ normal)
    return axis, edges, lowest - clearance * normal, normal


def travel(edges, point, normal, direction):
    """How far the valve can move in a direction until its edge meets the crown."""
    gap = lambda way: min((edge + way * direction - point) @ normal for edge in edges)
    return optimize.brentq(gap, -50, 50, xtol=1e-13)


CASES = itertools.product([0, 12, 23, 41], [True, False], [1.1, 3.4], [0.0, 0.35, -0.2], [0.0, 0.25, -0.1])


@pytest.mark.parametrize("angle, relief, square, lowered, sinking", CASES)
def test_both_directions(service, angle, relief, square, lowered, sinking):
    inclination = math.radians(angle)
    axis, edges, point, normal = valve_edge(inclination, square, relief)
    down = np.array([0.0, -1.0])
    before = [travel(edges, point, normal, way) for way in (down, axis)]
    moved = [edge + lowered * down - sinking * axis for edge in edges]
    after = [travel(moved, point, normal, way) for way in (down, axis)]
    for along, measured in zip(["bore", "valve"], before):
        answer = service.post("/v1/geometry/valve-to-piston", {
            "units": "metric", "valve": "intake", "crown": "relief" if relief else "flat", "measured_along": along,
            "measured_clearance": measured, "valve_inclination": angle, "deck_cut": 0.5, "gasket_change": 0.5 - lowered,
            "valve_sinking": sinking, "least_clearance": 2})
        for name, expected in [("before", before), ("after", after), ("change", np.subtract(after, before))]:
            found = answer[name]
            assert np.allclose([found["along_bore"], found["along_valve"]], expected, rtol=0, atol=1e-10), name
        # Cut further by what is left, and the least clearance is there along the valve.
        further = [edge + answer["cut_left"] * down for edge in moved]
        assert math.isclose(travel(further, point, normal, axis), 2, abs_tol=1e-10)
