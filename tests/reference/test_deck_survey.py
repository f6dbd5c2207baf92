"""Deck survey against numpy's least squares, scipy's linear programme and an exhaustive search."""

import math

import numpy as np
import pytest
from minimum_zone import deck, flatness, flatness_by_trying_all
from scipy.optimize import linprog

PATH = "/v1/geometry/deck-survey"


def generated(seed, count=12):
    """A deck in mm: tilt, twist, a dip and noise; heights read to a thousandth of a millimetre."""
    random = np.random.default_rng(seed)
    along, across = random.uniform(0, 600, count), random.uniform(-75, 65, count)
    tilt, lean, twist = random.normal(0, [2e-4, 5e-4, 5e-7])
    height = 230 + tilt * along + lean * across + twist * along * across + random.normal(0, 0.02, count)
    return np.column_stack([along, across, height.round(3)])


def request(*banks, **more):
    place = lambda point: {"along": point[0], "across": point[1], "height": point[2]}
    return {"units": "metric", "banks": [{"points": [place(map_) for map_ in np.asarray(bank).tolist()]} for bank in banks], **more}


@pytest.mark.parametrize("seed", range(12))
def test_plane_and_twist_are_numpys_least_squares(service, seed):
    points = generated(seed)
    x, y, z = points.T
    found = service.post(PATH, request(points))["banks"][0]["plane"]
    terms = np.column_stack([np.ones_like(x), x, y])
    plane, *_ = np.linalg.lstsq(terms, z, rcond=None)
    assert math.isclose(found["slope_along"], plane[1], rel_tol=1e-8)
    assert math.isclose(found["slope_across"], plane[2], rel_tol=1e-8)
    assert math.isclose(found["rise_along"], plane[1] * np.ptp(x), rel_tol=1e-8)
    assert math.isclose(found["rise_across"], plane[2] * np.ptp(y), rel_tol=1e-8)
    assert math.isclose(found["rms"], np.sqrt(np.mean((z - terms @ plane) ** 2)), rel_tol=1e-8)
    bilinear, *_ = np.linalg.lstsq(np.column_stack([terms, x * y]), z, rcond=None)
    assert math.isclose(found["twist"], bilinear[3] * np.ptp(x) * np.ptp(y), rel_tol=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_flatness_is_the_linear_programmes_and_the_exhaustive_searchs(service, seed):
    points = generated(seed, count=10)
    found = service.post(PATH, request(points))["banks"][0]["flatness"]
    assert math.isclose(found, flatness(points), rel_tol=1e-6)
    assert math.isclose(found, flatness_by_trying_all(points), rel_tol=1e-6)


@pytest.mark.parametrize("index", range(5))
def test_flatness_on_a_regular_grid_with_ties(service, index):
    found = service.post(PATH, request(deck(index)))["banks"][0]["flatness"]
    assert math.isclose(found, flatness(deck(index)), rel_tol=1e-6)
    assert math.isclose(found, flatness_by_trying_all(deck(index)), rel_tol=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_the_free_cut_is_the_linear_programmes(service, seed):
    points = generated(seed)
    _, y, z = points.T
    found = service.post(PATH, request(points, cross_slope="free"))["banks"][0]
    # Highest h + b mean(y) with h + b y <= z.
    best = linprog([-1, -y.mean()], A_ub=np.column_stack([np.ones_like(y), y]), b_ub=z, bounds=[(None, None)] * 2)
    cuts = np.array([point["cut"] for point in found["points"]])
    assert math.isclose(cuts.sum(), (z - best.x[0] - best.x[1] * y).sum(), abs_tol=1e-6)
    assert cuts.min() > -1e-9
    square = service.post(PATH, request(points))["banks"][0]
    assert math.isclose(square["finished_height"], z.min(), rel_tol=1e-12)
    assert math.isclose(square["largest_cut"], np.ptp(z), abs_tol=1e-9)


def test_step_and_deck_clearance_follow_from_numpys_planes(service):
    banks = [generated(1), generated(2) + [0, 0, -0.3]]
    stack = {"stroke": 90, "rod_length": 150, "compression_height": 34, "pin_offset": 0.8}
    asked = request(*banks, stack=stack, equal_banks=True, cleanup_allowance=0.02)
    for bank in asked["banks"]:
        bank["cylinders"] = [{"along": along} for along in (100, 250, 400, 550)]
    answer = service.post(PATH, asked)
    along = np.concatenate([bank[:, 0] for bank in banks])
    middle = (along.min() + along.max()) / 2
    planes = [np.linalg.lstsq(np.column_stack([np.ones(12), bank[:, :2]]), bank[:, 2], rcond=None)[0] for bank in banks]
    heights = [plane @ [1, middle, 0] for plane in planes]
    assert math.isclose(answer["step"], abs(heights[0] - heights[1]), rel_tol=1e-8)
    finished = min(bank[:, 2].min() for bank in banks) - 0.02
    pin = math.sqrt((150 + 45) ** 2 - 0.8**2)
    for plane, bank in zip(planes, answer["banks"]):
        assert math.isclose(bank["finished_height"], finished, rel_tol=1e-12)
        for along, cylinder in zip((100, 250, 400, 550), bank["cylinders"]):
            assert math.isclose(cylinder["deck_clearance_before"], plane @ [1, along, 0] - pin - 34, abs_tol=1e-9)
            assert math.isclose(cylinder["deck_clearance_after"], finished - pin - 34, abs_tol=1e-9)
