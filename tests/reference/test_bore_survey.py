"""Bore survey against numpy statistics, scipy's minimiser and scipy's root finder on the bores' outlines."""

import math

import numpy as np
import pytest
from scipy import optimize

PATH = "/v1/geometry/bore-survey"
CLOCK = np.arange(0, 360, 30)


def generated(seed, depths=4):
    random = np.random.default_rng(seed)
    cylinders = []
    for _ in range(int(random.integers(1, 9))):
        sizes = 100 + random.uniform(0, 0.3, (depths, 2)).round(3)
        walls = random.uniform(4, 7, len(CLOCK)).round(2)
        cylinders.append({"sizes": sizes, "walls": walls, "offset": random.uniform(-0.2, 0.2, 2).round(3)})
    return cylinders


def request(cylinders, **more):
    def entry(cylinder):
        readings = [{"depth": 20 + 30 * row, "thrust": thrust, "crank_axis": axis}
                    for row, (thrust, axis) in enumerate(cylinder["sizes"].tolist())]
        walls = [{"clock_angle": angle, "thickness": wall} for angle, wall in zip(CLOCK.tolist(), cylinder["walls"].tolist())]
        thrust, front = cylinder["offset"].tolist()
        return {"readings": readings, "walls": walls, "offset_thrust": thrust, "offset_front": front}

    return {"units": "metric", "present_size": 100, "oversizes": [0.25, 0.5, 0.75, 1.0, 1.5], "honing_allowance": 0.08,
            "cylinders": [entry(cylinder) for cylinder in cylinders], **more}


def smallest_circle(diameter, offset):
    """Radius about the new centre that reaches the farthest point of the present bore's circle, by searching the outline."""
    reach = lambda angle: math.hypot(diameter / 2 * math.cos(angle) - offset[0], diameter / 2 * math.sin(angle) - offset[1])
    starts = np.linspace(0, 2 * math.pi, 13)
    found = [optimize.minimize_scalar(lambda angle: -reach(angle), bounds=(start, start + 0.6), method="bounded") for start in starts]
    return -min(one.fun for one in found)


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("thrust, sign", [("three_o_clock", 1), ("nine_o_clock", -1)])
def test_sizes_and_walls_are_those_of_the_outlines(service, seed, thrust, sign):
    cylinders = generated(seed)
    answer = service.post(PATH, request(cylinders, major_thrust=thrust))
    needed = []
    for cylinder, found in zip(cylinders, answer["cylinders"]):
        sizes, offset = cylinder["sizes"], cylinder["offset"]
        assert math.isclose(found["taper"], np.ptp(sizes, axis=0).max(), abs_tol=1e-9)
        assert math.isclose(found["out_of_round"], abs(np.diff(sizes, axis=1)).max(), abs_tol=1e-9)
        assert (found["largest_reading"], found["smallest_reading"]) == pytest.approx((sizes.max(), sizes.min()), rel=1e-12)
        needed.append(2 * smallest_circle(sizes.max(), offset) + 0.08)
        assert math.isclose(found["smallest_finished_size"], needed[-1], abs_tol=1e-6)
        # The ray from the present centre meets the new bore where a root finder says.
        centre = np.array([sign * offset[0], offset[1]])
        for angle, wall, left in zip(np.radians(CLOCK), cylinder["walls"], found["walls"]):
            ray = np.array([math.sin(angle), math.cos(angle)])
            outside = lambda reach: np.linalg.norm(reach * ray - centre) - answer["chosen_size"] / 2
            reach = optimize.brentq(outside, 1, 100, xtol=1e-13)
            assert math.isclose(left["left"], wall - (reach - sizes.min() / 2), abs_tol=1e-9)
        major = found["walls"][3 if sign == 1 else 9]["side"]
        assert (major, found["walls"][0]["side"], found["walls"][6]["side"]) == ("major_thrust", "front", "rear")
        right, left = (cylinder["walls"][[2, 3, 4]].mean(), cylinder["walls"][[8, 9, 10]].mean())
        assert math.isclose(found["core_shift_thrust"], sign * (right - left) / 2, abs_tol=1e-9)
    assert math.isclose(answer["smallest_common_size"], max(needed), abs_tol=1e-6)
    listed = [oversize for oversize in (0.25, 0.5, 0.75, 1.0, 1.5) if 100 + oversize >= answer["smallest_common_size"] - 1e-9]
    assert answer["common_oversize"] == pytest.approx(listed[0], rel=1e-12)


def test_displacement_and_ratio_are_the_integrals(service):
    from scipy.integrate import quad

    cylinders = generated(3)
    more = {"major_thrust": "three_o_clock", "stroke": 90, "clearance_volume": 70, "engine_cylinders": 8}
    answer = service.post(PATH, request(cylinders, **more))
    for size, when in [(100, "before"), (answer["chosen_size"], "after")]:
        swept = 90 * quad(lambda radius: 2 * math.pi * radius, 0, size / 2)[0] / 1000
        assert math.isclose(answer[f"displacement_{when}"], 8 * swept, rel_tol=1e-10)
        assert math.isclose(answer[f"static_ratio_{when}"], (swept + 70) / 70, rel_tol=1e-10)
