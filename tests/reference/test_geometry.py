"""Geometry against numerical solutions by scipy: no closed form of ours is used here."""

import itertools
import math

import numpy as np
import pytest
from scipy import optimize
from scipy.differentiate import derivative

# Crank stroke, rod, offset in mm; engine speed in rev/min.
MECHANISMS = list(itertools.product([60.0, 86.0], [130.0, 170.0], [0.0, 1.5, -12.0])) + [(50.0, 55.0, 10.0), (50.0, 55.0, -12.5)]
SPEED = 4321.0
OMEGA = SPEED * 2 * math.pi / 60


def pin_height(stroke, rod, offset, turn):
    """Height of the pin: the intersection of the cylinder's line x = offset with the circle of the rod about the crankpin."""
    crankpin = stroke / 2 * np.array([np.sin(turn), np.cos(turn)])
    return crankpin[1] + np.sqrt(rod**2 - (offset - crankpin[0]) ** 2)


def top_centre(stroke, rod, offset):
    found = optimize.minimize_scalar(
        lambda turn: -pin_height(stroke, rod, offset, turn), bounds=(-1.5, 1.5), method="bounded", options={"xatol": 1e-12})
    return found.x


@pytest.mark.parametrize("stroke, rod, offset", MECHANISMS)
def test_motion_is_the_numeric_motion(service, stroke, rod, offset):
    angles = list(range(0, 720, 7))
    answer = service.post("/v1/geometry/piston-motion", {
        "units": "metric", "stroke": stroke, "rod_length": rod, "pin_offset": offset, "engine_speed": SPEED,
        "bore": 90, "clearance_volume": 55, "crank_angles": angles, "top_centre_distance": 5})
    zero = top_centre(stroke, rod, offset)
    top = pin_height(stroke, rod, offset, zero)
    turns = zero + np.radians(angles)
    height = lambda turn: pin_height(stroke, rod, offset, turn)
    rate = derivative(height, turns, initial_step=0.01).df
    bend = derivative(lambda turn: derivative(height, turn, initial_step=0.01).df, turns, initial_step=0.01).df
    position = np.array([point["position"] for point in answer["points"]])
    velocity = np.array([point["velocity"] for point in answer["points"]])
    acceleration = np.array([point["acceleration"] for point in answer["points"]])
    volume = np.array([point["volume"] for point in answer["points"]])
    # The optimiser finds the flat top to 1e-8 rad only, which moves everything after it by that much.
    assert np.allclose(position, top - height(turns), atol=1e-5)
    assert np.allclose(velocity, -rate * OMEGA / 1000, atol=1e-4)
    assert np.allclose(acceleration, -bend * OMEGA**2 / 1000, atol=abs(bend).max() * OMEGA**2 / 1000 * 1e-5)
    assert np.allclose(volume, 55 + math.pi / 4 * 9.0**2 * position / 10, rtol=1e-12)
    # Peaks, by searching.
    fastest = optimize.minimize_scalar(
        lambda turn: derivative(height, turn, initial_step=0.01).df, bounds=(zero, zero + math.pi), method="bounded",
        options={"xatol": 1e-10})
    assert math.isclose(answer["peak_piston_speed"], -fastest.fun * OMEGA / 1000, rel_tol=1e-9)
    assert math.isclose(answer["peak_piston_speed_angle"], math.degrees(fastest.x - zero), abs_tol=1e-3)
    assert answer["peak_piston_acceleration"] >= abs(acceleration).max() * (1 - 1e-9)
    bottom = optimize.minimize_scalar(height, bounds=(zero + 2, zero + 4.3), method="bounded", options={"xatol": 1e-12})
    assert math.isclose(answer["actual_stroke"], top - bottom.fun, rel_tol=1e-12)
    assert math.isclose(answer["mean_piston_speed"], 2 * (top - bottom.fun) / 1000 * SPEED / 60, rel_tol=1e-12)
    # Dwell: both places where the piston is 5 mm down.
    down = lambda turn: top - height(turn) - 5
    before, after = optimize.brentq(down, zero - 2, zero), optimize.brentq(down, zero, zero + 2)
    assert math.isclose(answer["top_centre_dwell"], math.degrees(after - before), rel_tol=1e-9)
    # Dead centres against the crank's upright position, in the direction of rotation.
    assert math.isclose(answer["top_centre_angle"], math.degrees(zero), abs_tol=1e-5)
    assert math.isclose(answer["bottom_centre_angle"], math.degrees(bottom.x), abs_tol=1e-5)


@pytest.mark.parametrize("stroke, rod, offset", MECHANISMS)
def test_the_stack_is_where_the_pin_really_stops(service, stroke, rod, offset):
    top = pin_height(stroke, rod, offset, top_centre(stroke, rod, offset))
    answer = service.post("/v1/geometry/deck-stack", {
        "units": "metric", "stroke": stroke, "rod_length": rod, "pin_offset": offset, "compression_height": 30,
        "deck_height": top + 30.7, "gasket_thickness": 1.2})
    assert math.isclose(answer["deck_clearance"], 0.7, abs_tol=1e-9)
    assert math.isclose(answer["squish_clearance"], 1.9, abs_tol=1e-9)
    solved = optimize.brentq(lambda height: height - top - 30 - 0.25, 0, 1000)
    answer = service.post("/v1/geometry/deck-stack", {
        "units": "metric", "stroke": stroke, "rod_length": rod, "pin_offset": offset, "compression_height": 30,
        "deck_clearance": 0.25})
    assert math.isclose(answer["deck_height"], solved, rel_tol=1e-10)


def test_trapped_volume_is_the_swept_integral(service):
    """The cylinder volume at intake closing as the integral of piston area times travel, by quadrature of the velocity."""
    from scipy.integrate import quad

    build = {
        "units": "metric", "engine": {"cylinders": 4, "layout": "inline"}, "block": {"bore": 90, "deck_height": 225},
        "crankshaft": {"stroke": 86}, "connecting_rod": {"length": 150}, "piston": {"compression_height": 31, "pin_offset": 1.0},
        "cylinder_head": {"chamber_volume": 50}, "head_gasket": {"bore": 91, "compressed_thickness": 1},
        "camshaft": {"intake_closes_abdc": 55}}
    answer = service.post("/v1/builds/evaluate", build)
    zero = top_centre(86, 150, 1.0)
    rate = lambda turn: derivative(lambda at: pin_height(86, 150, 1.0, at), turn, initial_step=0.01).df
    travel = -quad(rate, zero, zero + math.radians(180 + 55))[0]
    volume = answer["compression"]["clearance_volume"] + math.pi / 4 * 9.0**2 * travel / 10
    assert math.isclose(answer["compression"]["trapped_volume"], volume, rel_tol=1e-7)
    assert math.isclose(
        answer["compression"]["trapped_ratio"], volume / answer["compression"]["clearance_volume"], rel_tol=1e-7)
