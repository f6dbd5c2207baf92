"""Line-hone against numpy's line fit, a vector construction of the shafts and a belt round the sprockets' outline."""

import math

import numpy as np
import pytest
from scipy import optimize
from scipy.spatial import ConvexHull

PATH = "/v1/geometry/line-hone"


def generated(seed):
    random = np.random.default_rng(seed)
    count = int(random.integers(2, 8))
    along = np.cumsum(random.uniform(90, 130, count))
    sizes = 70 + random.uniform(-0.08, 0, count).round(3)
    deviation = random.uniform(-0.05, 0.05, count).round(3)
    deviation[[0, -1]] = 0
    return along, sizes, deviation, round(random.uniform(0, 0.3), 3)


def request(along, sizes, deviation, cut, **more):
    housings = [{"along": x, "size": size, "deviation": d} for x, size, d in zip(along.tolist(), sizes.tolist(), deviation.tolist())]
    for end in (housings[0], housings[-1]):
        del end["deviation"]
    return {"units": "metric", "housings": housings, "cap_cut": cut, "finished_size": 70.05, **more}


@pytest.mark.parametrize("seed", range(15))
def test_axis_and_stock_are_those_of_fitted_circles(service, seed):
    along, sizes, deviation, cut = generated(seed)
    answer = service.post(PATH, request(along, sizes, deviation, cut))
    top, bottom = deviation, deviation - sizes + cut
    new = np.polynomial.Polynomial.fit(along, (top + bottom) / 2, 1)
    old = np.polynomial.Polynomial.fit(along[[0, -1]], (deviation - sizes / 2)[[0, -1]], 1)
    for index, found in enumerate(answer["housings"]):
        axis = new(along[index])
        assert math.isclose(found["movement"], axis - old(along[index]), abs_tol=1e-9)
        assert math.isclose(found["saddle_stock"], axis + 70.05 / 2 - top[index], abs_tol=1e-9)
        assert math.isclose(found["cap_stock"], bottom[index] - (axis - 70.05 / 2), abs_tol=1e-9)
    middle = (along[0] + along[-1]) / 2
    assert math.isclose(answer["movement"], new(middle) - old(middle), abs_tol=1e-9)
    # The smallest circle on that axis that holds every saddle and cap, and is no smaller than the sides.
    clean = lambda size: min((new(along) + size / 2 - top).min(), (bottom - new(along) + size / 2).min())
    size = max(optimize.brentq(clean, 50, 90, xtol=1e-12), sizes.max())
    assert math.isclose(answer["smallest_finished_size"], size, abs_tol=1e-9)


@pytest.mark.parametrize("bore", [0, 22.5, 30, 45, 60, 90])
@pytest.mark.parametrize("cam", [0, 35, 110])
def test_decks_and_camshaft_by_vectors(service, bore, cam):
    along, sizes, deviation, cut = generated(1)
    decks, camshaft = [{"deck_height": 240, "bore_angle": bore}], {"distance": 130, "angle": cam}
    answer = service.post(PATH, request(along, sizes, deviation, cut, decks=decks, camshaft=camshaft))
    crank = np.array([0, answer["movement"]])
    direction = np.array([math.sin(math.radians(bore)), math.cos(math.radians(bore))])
    on_deck = 240 * direction
    assert math.isclose(answer["decks"][0]["deck_height_after"], (on_deck - crank) @ direction, rel_tol=1e-12)
    assert math.isclose(answer["decks"][0]["deck_clearance_change"], -crank @ direction, abs_tol=1e-9)
    assert math.isclose(answer["decks"][0]["axis_offset"], abs(np.linalg.det([direction, crank])), abs_tol=1e-9)
    shaft = 130 * np.array([math.sin(math.radians(cam)), math.cos(math.radians(cam))])
    assert math.isclose(answer["cam_distance_after"], np.linalg.norm(shaft - crank), rel_tol=1e-12)
    assert math.isclose(answer["cam_distance_change"], np.linalg.norm(shaft - crank) - 130, abs_tol=1e-9)


def belt(distance, pitch, large, small):
    """Length of a belt on both pitch circles: the outline of their convex hull, by scipy; and the length of one free run."""
    angles = np.linspace(0, 2 * math.pi, 20000, endpoint=False)
    circle = np.column_stack([np.cos(angles), np.sin(angles)]) * pitch / 2
    radii = [1 / math.sin(math.pi / teeth) for teeth in (large, small)]
    points = np.vstack([radii[0] * circle, radii[1] * circle + [0, distance]])
    corners = points[ConvexHull(points).vertices]
    edges = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1)
    return edges.sum(), edges.max()


@pytest.mark.parametrize("teeth", [(18, 36), (20, 20), (23, 46), (40, 20)])
@pytest.mark.parametrize("cut", [0.05, 0.2])
def test_slack_and_sag_of_the_chain(service, teeth, cut):
    along, sizes, deviation = np.array([0.0, 100, 200]), np.full(3, 70.0), np.zeros(3)
    chain = {"pitch": 9.525, "crank_teeth": teeth[0], "camshaft_teeth": teeth[1]}
    answer = service.post(PATH, request(along, sizes, deviation, cut, camshaft={"distance": 140}, chain=chain))
    before, _ = belt(140, 9.525, *teeth)
    after, free = belt(140 - cut / 2, 9.525, *teeth)
    # Links lie on chords: their wrap changes a little less than a belt's.
    assert math.isclose(answer["chain_slack"], before - after, rel_tol=1e-3)
    # A parabola over the run that is longer than the run by the slack.
    rise = np.linspace(-1, 1, 200001) * free / 2
    longer = lambda sag: np.trapezoid(np.hypot(1, 8 * sag * rise / free**2), rise) - free - answer["chain_slack"]
    assert math.isclose(answer["chain_sag"], optimize.brentq(longer, 0, 50), rel_tol=2e-3)
