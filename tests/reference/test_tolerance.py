"""Tolerances against the uncertainties package, and against numpy on the very same draws."""

import itertools
import math

import numpy as np
import pytest
from uncertainties import ufloat

NOMINAL = {
    "bore": 95.0, "stroke": 88.0, "chamber_volume": 55.5, "gasket_bore": 97.0, "gasket_thickness": 1.1, "deck_clearance": 0.25,
    "dish_volume": 6.0, "dome_volume": 1.5, "top_land_height": 7.0, "top_land_diameter": 94.2}
TOLERANCES = {
    "bore": 0.012, "stroke": 0.05, "chamber_volume": 0.5, "gasket_bore": 0.4, "gasket_thickness": 0.05, "deck_clearance": 0.08,
    "dish_volume": 0.3, "dome_volume": 0.2, "top_land_height": 0.1, "top_land_diameter": 0.05}
# The order in which the service draws the parts.
ORDER = [
    "bore", "stroke", "chamber_volume", "gasket_bore", "gasket_thickness", "deck_clearance", "dish_volume", "dome_volume",
    "top_land_height", "top_land_diameter"]
LIMITS = {"ratio_min": 9.62, "ratio_max": 9.8, "squish_min": 1.28, "squish_max": 1.42}
DIVISOR = {"rectangular": math.sqrt(3), "normal": 2}


def ratio_of(part):
    """mm and cm3 in; works for numbers, arrays and numbers with uncertainty."""
    circle = math.pi / 4 * part["bore"] ** 2
    clearance = (
        part["chamber_volume"] + part["dish_volume"] - part["dome_volume"]
        + (math.pi / 4 * part["gasket_bore"] ** 2 * part["gasket_thickness"] + circle * part["deck_clearance"]
           + (circle - math.pi / 4 * part["top_land_diameter"] ** 2) * part["top_land_height"]) / 1000)
    return 1 + circle * part["stroke"] / 1000 / clearance


def squish_of(part):
    return part["deck_clearance"] + part["gasket_thickness"]


def ask(service, **fields):
    return service.post("/v1/compression/tolerance", {
        "units": "metric", "nominal": NOMINAL, "tolerances": TOLERANCES, "limits": LIMITS, **fields})


@pytest.mark.parametrize("distribution", DIVISOR)
def test_first_order_is_what_the_uncertainties_package_says(service, distribution):
    answer = ask(service, distribution=distribution)
    parts = {name: ufloat(NOMINAL[name], TOLERANCES[name] / DIVISOR[distribution], name) for name in ORDER}
    ratio, squish = ratio_of(parts), squish_of(parts)
    assert math.isclose(answer["ratio"]["nominal"], ratio.nominal_value, rel_tol=1e-12)
    assert math.isclose(answer["ratio"]["standard_uncertainty"], ratio.std_dev, rel_tol=1e-9)
    assert math.isclose(answer["squish"]["nominal"], squish.nominal_value, rel_tol=1e-12)
    assert math.isclose(answer["squish"]["standard_uncertainty"], squish.std_dev, rel_tol=1e-9)
    contributions = {part.tag: size for part, size in ratio.error_components().items()}
    for share in answer["shares"]:
        size = contributions[share["item"]]
        assert math.isclose(share["ratio_uncertainty"], size, rel_tol=1e-9), share
        assert math.isclose(share["ratio_share"], 100 * (size / ratio.std_dev) ** 2, rel_tol=1e-9), share
    assert [share["item"] for share in answer["shares"]] == ORDER


def test_the_worst_case_is_found_by_trying_every_corner(service):
    answer = ask(service)
    corners = [
        {name: NOMINAL[name] + sign * TOLERANCES[name] for name, sign in zip(ORDER, signs)}
        for signs in itertools.product([-1, 1], repeat=len(ORDER))]
    for name, result in {"ratio": ratio_of, "squish": squish_of}.items():
        values = [result(corner) for corner in corners]
        assert math.isclose(answer[name]["worst_low"], min(values), rel_tol=1e-12)
        assert math.isclose(answer[name]["worst_high"], max(values), rel_tol=1e-12)
    # Nothing inside the tolerances is worse than the corners.
    inside = np.random.default_rng(3).uniform(-1, 1, (200_000, len(ORDER)))
    values = ratio_of({name: NOMINAL[name] + TOLERANCES[name] * inside[:, at] for at, name in enumerate(ORDER)})
    assert answer["ratio"]["worst_low"] <= values.min() and values.max() <= answer["ratio"]["worst_high"]


def splitmix(seed, count):
    """SplitMix64 as numbers from 0 to 1, all at once: its state is the seed plus a multiple of a constant."""
    with np.errstate(over="ignore"):
        mixed = np.uint64(seed) + np.arange(1, count + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
        mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
        mixed ^= mixed >> np.uint64(31)
    return (mixed >> np.uint64(11)).astype(float) / 2.0**53


@pytest.mark.parametrize("distribution", DIVISOR)
@pytest.mark.parametrize("draws, seed", [(100_000, 1), (12_345, 4_000_000_000)])
def test_monte_carlo_is_numpys_on_the_same_draws(service, distribution, draws, seed):
    answer = ask(service, distribution=distribution, draws=draws, seed=seed)
    if distribution == "rectangular":
        off = 2 * splitmix(seed, draws * len(ORDER)).reshape(draws, len(ORDER)) - 1
    else:
        count = draws * len(ORDER)
        pairs = splitmix(seed, count + count % 2).reshape(-1, 2)
        radius, turn = np.sqrt(-2 * np.log(1 - pairs[:, 0])), 2 * np.pi * pairs[:, 1]
        both = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1).ravel()
        off = both[:count].reshape(draws, len(ORDER)) / 2
    parts = {name: NOMINAL[name] + TOLERANCES[name] * off[:, at] for at, name in enumerate(ORDER)}
    inside = np.ones(draws, bool)
    for name, result in {"ratio": ratio_of, "squish": squish_of}.items():
        values, found = result(parts), answer[name]
        assert math.isclose(found["mean"], values.mean(), rel_tol=1e-12)
        assert math.isclose(found["standard_deviation"], values.std(ddof=1), rel_tol=1e-9)
        ordered, covered = np.sort(values), round(0.95 * draws)
        low = math.ceil((draws - covered) / 2)
        assert math.isclose(found["interval_low"], ordered[low - 1], rel_tol=1e-12)
        assert math.isclose(found["interval_high"], ordered[low + covered - 1], rel_tol=1e-12)
        kept = (values >= LIMITS[name + "_min"]) & (values <= LIMITS[name + "_max"])
        inside &= kept
        assert math.isclose(found["chance_within"], 100 * kept.mean(), rel_tol=1e-12)
    assert math.isclose(answer["chance_within_all"], 100 * inside.mean(), rel_tol=1e-12)
    assert 5 < answer["chance_within_all"] < 95


def test_monte_carlo_is_near_numpys_own_generator(service):
    """Other draws of the same parts: the differences are those of chance, four standard errors at most."""
    answer = ask(service)
    off = np.random.default_rng(11).uniform(-1, 1, (1_000_000, len(ORDER)))
    values = ratio_of({name: NOMINAL[name] + TOLERANCES[name] * off[:, at] for at, name in enumerate(ORDER)})
    error = values.std() / math.sqrt(100_000)
    assert abs(answer["ratio"]["mean"] - values.mean()) < 4 * error
    assert math.isclose(answer["ratio"]["standard_deviation"], values.std(), rel_tol=0.01)
    assert abs(answer["ratio"]["interval_low"] - np.quantile(values, 0.025)) < 0.02 * values.std()
