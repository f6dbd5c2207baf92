"""Flatness by scipy's linear programme, and a measured deck to try it on: used by the tests and by the comparison of times.

Run it for its time beside that of `calc-core/benches/deck_survey.rs` on the same points:
target/venv/bin/python tests/reference/minimum_zone.py
"""

import itertools
import json
import math
import pathlib
import time

import numpy as np
from scipy.optimize import linprog


def minimax_plane(points):
    """a, b, c and e of the plane with the smallest largest |z - a x - b y - c| = e, by the HiGHS solver."""
    x, y, z = np.asarray(points, float).T
    ones = np.ones_like(x)
    above = np.column_stack([-x, -y, -ones, -ones])
    below = np.column_stack([x, y, ones, -ones])
    found = linprog([0, 0, 0, 1], A_ub=np.vstack([above, below]), b_ub=np.concatenate([-z, z]), bounds=[(None, None)] * 4)
    assert found.success
    return found.x


def flatness(points):
    """Width along the normal: the programme is solved again in the frame of the plane found."""
    points = np.asarray(points, float)
    points = points - points.mean(axis=0)
    for _ in range(20):
        a, b, _, e = minimax_plane(points * [1, 1, 1000]) / [1000, 1000, 1000, 1000]
        if math.hypot(a, b) < 1e-8:
            return 2 * e
        normal = np.array([-a, -b, 1]) / math.sqrt(1 + a * a + b * b)
        along = np.array([1, 0, a]) / math.sqrt(1 + a * a)
        points = points @ np.column_stack([along, np.cross(normal, along), normal])
    raise AssertionError("the plane keeps turning")


def flatness_by_trying_all(points):
    """Every direction that two edges between points span: slow, exact, and of no programme at all."""
    points = np.asarray(points, float)
    edges = [points[j] - points[i] for i, j in itertools.combinations(range(len(points)), 2)]
    normals = np.array([np.cross(one, two) for one, two in itertools.combinations(edges, 2)])
    lengths = np.linalg.norm(normals, axis=1)
    steep = abs(normals[:, 2]) > 0.9 * lengths
    kept = (lengths > 1e-9) & steep
    heights = normals[kept] @ points.T / lengths[kept, None]
    return (heights.max(axis=1) - heights.min(axis=1)).min()


def deck(index):
    """Twelve points of one bank in mm: tilted, twisted and worn, the same as in the benchmark."""
    def point(place):
        along, across = 120.0 * (place % 6), -70.0 if place < 6 else 60.0
        worn = 0.01 * ((place * 7 + index * 3) % 5)
        return along, across, 230.0 + 1e-4 * along - 2e-4 * across + 1e-7 * along * across + worn

    return [point(place) for place in range(12)]


if __name__ == "__main__":
    banks = [deck(0), deck(1)]
    rounds = 20
    start = time.perf_counter()
    for _ in range(rounds):
        for bank in banks:
            flatness(bank)
    elapsed = (time.perf_counter() - start) / rounds
    print(f"{'flatness of 2 banks x 12 points, scipy linprog':60} {elapsed * 1e6:10.1f} us")
    # Ours as last measured: cargo bench -p calc-core --bench deck_survey
    root = pathlib.Path(__file__).resolve().parents[2]
    for estimates in sorted(root.glob("target/criterion/geometry_*/new/estimates.json")):
        name = estimates.parents[1].name
        print(f"{name:60} {json.loads(estimates.read_text())['median']['point_estimate'] / 1000:10.1f} us")
