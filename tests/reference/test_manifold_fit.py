"""Fit of the manifold by moving the head's points as vectors: no closed form of ours is used here.

The end view has x to the right and y up. The right bank leans right by half the bank angle; the left one is its mirror image.
"""

import itertools
import math

import numpy as np
import pytest
from scipy import optimize

PATH = "/v1/geometry/manifold-fit"
MIRROR = np.diag([-1.0, 1.0])


def turned(angle):
    """Turns counterclockwise by degrees."""
    angle = math.radians(angle)
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def right_bank(half, face):
    """Bore direction, normal of the intake face (towards the valley) and the face's upward direction of the right bank."""
    bore = turned(-half) @ [0.0, 1.0]
    normal = turned(-half) @ turned(-face) @ [-1.0, 0.0]
    upward = turned(-90) @ normal
    return bore, normal, upward


def banks(half, face):
    right = right_bank(half, face)
    return [right, tuple(MIRROR @ vector for vector in right)]


CASES = list(itertools.product([20.0, 30.0, 45.0, 52.5], [-4.0, 0.0, 7.0, 10.0, 25.0], [(0.3, 0.3), (0.4, 0.15), (-0.1, 0.2)]))


@pytest.mark.parametrize("half, face, lowered", CASES)
def test_manifold_cuts_bring_every_port_back(service, half, face, lowered):
    """Solves numerically for the cuts and the manifold's place that put both its ports on the heads' ports again."""
    answer = service.post(PATH, {
        "units": "metric", "bank_angle": 2 * half, "manifold": "valley", "intake_face_angle": face,
        "bank": {"deck_cut": 1, "gasket_change": 1 - lowered[0]}, "other_bank": {"head_cut": 1, "gasket_change": 1 - lowered[1]}})
    both = banks(half, face)
    # A port of each head, anywhere; the manifold's port lay on it before.
    ports = [np.array([60.0, 210.0]), np.array([-61.0, 205.0])]

    def misses(unknown):
        sideways, down, *cuts = unknown
        found = []
        for (bore, normal, _), port, q, cut in zip(both, ports, lowered, cuts):
            head_port = port - q * bore
            manifold_port = port + [sideways, -down] + cut * normal  # the side recedes into the manifold
            found.extend(manifold_port - head_port)
        return found

    solution = optimize.root(misses, [0.0, 0.0, 0.0, 0.0], tol=1e-13)
    assert solution.success or max(abs(np.array(misses(solution.x)))) < 1e-10
    sideways, down, *cuts = solution.x
    assert math.isclose(answer["manifold"]["end_rail_cut"], down, abs_tol=1e-10)
    assert math.isclose(answer["manifold"]["sideways_shift"], sideways, abs_tol=1e-10)
    for bank, cut in zip(["bank", "other_bank"], cuts):
        assert math.isclose(answer[bank]["face"]["side_cut"], cut, abs_tol=1e-10), bank


@pytest.mark.parametrize("half, face, lowered", CASES)
@pytest.mark.parametrize("bolt", [0.0, 20.0])
def test_uncut_gaps_are_those_between_the_moved_points(service, half, face, lowered, bolt):
    answer = service.post(PATH, {
        "units": "metric", "bank_angle": 2 * half, "manifold": "valley", "intake_face_angle": face, "bolt_angle": bolt,
        "bank": {"head_cut": 1, "gasket_change": 1 - lowered[0]}, "other_bank": {"deck_cut": 1, "gasket_change": 1 - lowered[1]}})
    for name, (bore, normal, upward), q, side in zip(["bank", "other_bank"], banks(half, face), lowered, [1, -1]):
        port = np.array([side * 60.0, 210.0])
        moved = port - q * bore
        assert math.isclose(answer[name]["down"], port[1] - moved[1], abs_tol=1e-11)
        assert math.isclose(answer[name]["inward"], abs(port[0]) - abs(moved[0]), abs_tol=1e-11)
        found = answer[name]["face"]
        # The manifold's plane still goes through the old port; measure from the moved head to it.
        assert math.isclose(found["face_gap"], (port - moved) @ normal, abs_tol=1e-11)
        assert math.isclose(found["port_mismatch"], (port - moved) @ upward, abs_tol=1e-11)
        # Bolts turned up from the face's normal; the mismatch is what is left of the move square to the bolt.
        axis = turned(-side * bolt) @ normal
        square = turned(-side * 90) @ axis
        assert math.isclose(found["bolt_hole_mismatch"], (port - moved) @ square, abs_tol=1e-11)


def room(foot, top, entry, exit_, rod, passage):
    """Smallest distance from the passage's wall to the rod's surface: sections of a finely drawn rod all along the passage."""
    axis = (exit_ - entry) / np.linalg.norm(exit_ - entry)
    run = (top - foot) / np.linalg.norm(top - foot)
    aside = np.cross(run, [1.0, 0.0, 0.0])
    aside /= np.linalg.norm(aside)
    circle = np.linspace(0, 2 * math.pi, 721)[:, None]
    skin = foot + rod / 2 * (np.cos(circle) * aside + np.sin(circle) * np.cross(run, aside))
    closest = math.inf
    for end in np.linspace(entry, exit_, 15):
        share = ((end - skin) @ axis / (run @ axis))[:, None]
        closest = min(closest, passage / 2 - np.linalg.norm(skin + share * run - end, axis=1).max())
    return closest


@pytest.mark.parametrize("carrier", ["head", "manifold", "block"])
@pytest.mark.parametrize("lowered", [0.4, -0.3])
@pytest.mark.parametrize("lean", [4.0, 15.0])
def test_pushrod_room_is_that_of_a_drawn_rod(service, carrier, lowered, lean):
    half, face = 45.0, 10.0
    foot, top = np.array([0.0, 0.0, 0.0]), np.array([3.0, lean, 200.0])
    entry, exit_ = np.array([1.5, 0.6 * lean, 120.0]), np.array([2.6, 0.85 * lean, 170.0])
    point = lambda place: dict(zip(["along", "across", "up"], place))
    answer = service.post(PATH, {
        "units": "metric", "bank_angle": 2 * half, "manifold": "valley", "intake_face_angle": face,
        "bank": {"deck_cut": 1, "gasket_change": 1 - lowered},
        "pushrod": {"diameter": 7.9, "lifter_side": point(foot), "rocker_side": point(top), "passage": {
            "entry": point(entry), "exit": point(exit_), "diameter": 14, "moves_with": carrier}}})
    down = np.array([0.0, 0.0, -lowered])
    # The manifold stays in the middle and comes down by its rail cut: turn that into the bank's frame.
    bore, normal, _ = right_bank(half, face)
    valley_ward = turned(90) @ bore
    drop = np.array([0.0, -answer["manifold"]["end_rail_cut"]])
    carried = {"head": down, "block": np.zeros(3), "manifold": np.array([0.0, drop @ valley_ward, drop @ bore])}[carrier]
    before = room(foot, top, entry, exit_, 7.9, 14)
    after = room(foot, top + down, entry + carried, exit_ + carried, 7.9, 14)
    # The service takes the widest half-section all round: on the safe side, by less than the half-section grows.
    run, axis = top - foot, exit_ - entry
    cosine = run @ axis / np.linalg.norm(run) / np.linalg.norm(axis)
    allowance = 7.9 / 2 * (1 / cosine - 1) + 1e-4
    found = answer["pushrod"]["clearance"]
    assert 0 <= before - found["before"] + 1e-9 <= allowance + 1e-9
    assert 0 <= after - found["after"] + 1e-9 <= allowance * 1.1 + 1e-9
    assert math.isclose(found["change"], found["after"] - found["before"], abs_tol=1e-12)
    assert math.isclose(answer["pushrod"]["length_before"], np.linalg.norm(run), rel_tol=1e-12)
    assert math.isclose(answer["pushrod"]["length_after"], np.linalg.norm(run + down), rel_tol=1e-12)
    assert math.isclose(answer["pushrod_length_change"], np.linalg.norm(run + down) - np.linalg.norm(run), abs_tol=1e-11)


def test_without_a_valley_everything_moves_along_the_bore(service):
    answer = service.post(PATH, {"units": "inch", "manifold": "on_head", "bank": {"deck_cut": 0.012, "head_cut": ".2 mm"}})
    assert math.isclose(answer["bank"]["down"], 0.012 + 0.2 / 25.4, rel_tol=1e-12)
    assert answer["bank"]["inward"] == 0
    assert answer["pushrod_length_change"] == -answer["bank"]["lowered"]
    assert not {"other_bank", "manifold", "pushrod"} & set(answer)
