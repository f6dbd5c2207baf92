"""The knock estimate: its pressure and unburnt gas against scipy's integrators with Cantera's gas, its integral by quadrature."""

import functools
import math
import warnings

import cantera
import numpy as np
import pytest
from scipy.integrate import cumulative_simpson, solve_ivp

ENGINES = [
    {"static_ratio": 9, "spark": 20, "speed": 2000, "closing": 45, "trapped_temperature": 60, "pin_offset": 0, "air_fuel_ratio": 14.7},
    {"static_ratio": 10.5, "spark": 33.3, "speed": 6500, "closing": 71, "trapped_temperature": 90, "pin_offset": -1, "air_fuel_ratio": 12.6},
    {"static_ratio": 12, "spark": 8, "speed": 3500, "closing": 60, "trapped_temperature": 40, "pin_offset": 0.8, "air_fuel_ratio": 15.5},
]
STROKE, ROD = 86.0, 143.0


def ask(service, engine, **more):
    return service.post("/v1/compression/knock-margin", {
        "units": "metric", "stroke": STROKE, "rod_length": ROD, "pin_offset": engine["pin_offset"],
        "static_ratio": engine["static_ratio"], "intake_closes_abdc": engine["closing"], "trapped_pressure": 0.97,
        "trapped_temperature": engine["trapped_temperature"], "spark_advances": [engine["spark"]],
        "engine_speeds": [engine["speed"]], "air_fuel_ratio": engine["air_fuel_ratio"], "include_history": True, **more})


@functools.cache
def mixture(air_fuel_ratio):
    """Air with iso-octane vapour from Cantera's own files, by mass."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        air = {species.name: species for species in cantera.Species.list_from_file("air.yaml")}
        fuel = {species.name: species for species in cantera.Species.list_from_file("nasa_gas.yaml")}["C8H18,isooctane"]
        gas = cantera.Solution(thermo="ideal-gas", species=[air["N2"], air["O2"], air["AR"], fuel])
        gas.X = "N2:0.78, O2:0.21, AR:0.01"
        parts = gas.Y * air_fuel_ratio / (1 + air_fuel_ratio)
        parts[3] = 1 / (1 + air_fuel_ratio)
        gas.Y = parts
    return gas


def delay(octane, pressure, temperature):
    """Seconds; bar and kelvins."""
    return 17.68e-3 * (octane / 100) ** 3.402 * (pressure / 1.01325) ** -1.7 * math.e ** (3800 / temperature)


def column(answer, name):
    return np.array([point[name] for point in answer["history"]])


@pytest.mark.parametrize("engine", ENGINES)
def test_the_integral_over_the_history_is_one(service, engine):
    answer = ask(service, engine)
    angle = column(answer, "crank_angle")
    rate = 1 / delay(answer["octane_number"], column(answer, "pressure"), column(answer, "unburned_temperature") + 273.15)
    rate /= 6 * engine["speed"]
    integral = cumulative_simpson(rate, x=angle, initial=0)
    assert math.isclose(integral[-1], 1, rel_tol=2e-6)
    assert np.allclose(column(answer, "knock_integral"), integral, atol=5e-6)
    assert np.diff(angle).max() <= 0.5 + 1e-9


@pytest.mark.parametrize("engine", ENGINES)
def test_pressure_and_unburnt_gas_are_those_of_an_independent_solution(service, engine):
    answer = ask(service, engine)
    gas = mixture(engine["air_fuel_ratio"])
    crank, offset = STROKE / 2, engine["pin_offset"]
    top = math.asin(offset / (ROD + crank))
    highest = math.sqrt((ROD + crank) ** 2 - offset**2)
    stroke = highest - math.sqrt((ROD - crank) ** 2 - offset**2)
    spark, duration, closing = -engine["spark"], 50, engine["closing"] - 180

    def volume(degrees):
        turn = top + math.radians(degrees)
        travel = highest - crank * math.cos(turn) - math.sqrt(ROD**2 - (crank * math.sin(turn) - offset) ** 2)
        return 1 + (engine["static_ratio"] - 1) * travel / stroke

    def burned(degrees):
        return 1 - math.exp(-5 * ((degrees - spark) / duration) ** 3) if degrees > spark else 0.0

    temperature, pressure = engine["trapped_temperature"] + 273.15, 0.97e5
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        gas.TP = temperature, pressure
        mass = gas.density * volume(closing)
        burnable = min(1, engine["air_fuel_ratio"] / 14.7) / (1 + engine["air_fuel_ratio"])
        heat = 18676 * 2326 * 0.85 * 0.95 * burnable
        assert math.isclose(answer["released_heat"], heat / 1e6, rel_tol=1e-12)

        def slopes(degrees, state):
            # Energy as the unknown: du = dq - p dv, the gas's temperature from its energy.
            mean, unburned = state
            step = 1e-3
            gas.TD = mean, mass / volume(degrees)
            expansion = (volume(degrees + step) - volume(degrees - step)) / (2 * step) / mass
            heating = heat * (burned(degrees + step) - burned(max(degrees - step, spark))) / (degrees + step - max(degrees - step, spark)) \
                if degrees > spark else 0
            warming = (heating - gas.P * expansion) / gas.cv_mass
            rise = gas.P * (warming / mean - expansion * gas.density)
            pressure, constant = gas.P, cantera.gas_constant / gas.mean_molecular_weight
            gas.TP = unburned, pressure
            return [warming, unburned * rise / pressure * constant / gas.cp_mass]

        angles = column(answer, "crank_angle")
        before, after = angles[angles <= spark + 1e-9], angles[angles >= spark - 1e-9]
        options = {"rtol": 1e-8, "atol": 1e-6, "max_step": 1.0}
        first = solve_ivp(slopes, (closing, spark), [temperature, temperature], t_eval=np.minimum(before, spark), **options)
        second = solve_ivp(
            slopes, (spark, spark + duration), first.y[:, -1], t_eval=np.clip(after, spark, spark + duration), **options)
        mean, unburned = np.hstack([first.y, second.y[:, 1:]])
    assert np.allclose(column(answer, "gas_temperature") + 273.15, mean, rtol=2e-5)
    assert np.allclose(column(answer, "unburned_temperature") + 273.15, unburned, rtol=2e-5)
    volumes = np.array([volume(degrees) for degrees in angles])
    pressures = 0.97 * mean / temperature * volume(closing) / volumes
    assert np.allclose(column(answer, "pressure"), pressures, rtol=2e-5)


def test_a_table_of_settings_is_its_settings_one_by_one(service):
    engine = ENGINES[0]
    table = ask(service, engine, include_history=False, spark_advances=[15, 25], engine_speeds=[1500, 3000, 6000])
    assert "history" not in table
    worst = 0
    for spark in table["sparks"]:
        for speed in spark["speeds"]:
            single = ask(service, {**engine, "spark": spark["spark_advance"], "speed": round(speed["engine_speed"])})
            assert math.isclose(single["octane_number"], speed["octane_number"], rel_tol=1e-12)
            worst = max(worst, speed["octane_number"])
    assert table["octane_number"] == worst


def test_cautions_stand_in_every_answer(service):
    answer = ask(service, ENGINES[1], fuel_octane_number=50)
    codes = [caution["code"] for caution in answer["cautions"]]
    assert codes[-2:] == ["detonation_destroys_engines", "measure_and_mock_up"]
    assert "fuel_below_estimate" in codes and answer["margin"] < 0
    assert any("estimate" in text for text in answer["assumptions"])


def test_sensitivity_to_temperature_has_the_unit_of_the_system(service):
    metric = ask(service, ENGINES[0])["sparks"][0]["speeds"][0]
    inch = service.post("/v1/compression/knock-margin", {
        "units": "inch", "stroke": "86 mm", "rod_length": "143 mm", "static_ratio": 9, "intake_closes_abdc": 45,
        "trapped_pressure": "0.97 bar", "trapped_temperature": "60 degC", "spark_advances": [20], "engine_speeds": [2000],
        "air_fuel_ratio": 14.7})["sparks"][0]["speeds"][0]
    assert math.isclose(inch["octane_per_intake_degree"] * 1.8, metric["octane_per_intake_degree"], rel_tol=1e-9)
    assert math.isclose(inch["octane_number"], metric["octane_number"], rel_tol=1e-9)
