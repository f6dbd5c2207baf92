"""The list of operations against a plain simulation of the block with exact fractions: every cut is carried out, pass by pass."""

from fractions import Fraction

import numpy as np
import pytest

PATH = "/v1/builds/operations"


def exact(thousandths):
    return Fraction(int(thousandths), 10000)


def invented(seed):
    """A block in ten-thousandths of an inch, whole numbers, so that fractions are exact."""
    draw = np.random.default_rng(seed)
    tight = draw.integers(40000, 40100, 8)
    return {
        "tight": tight, "large": tight + draw.integers(0, 60, 8), "wall": draw.integers(1000, 1800, 8),
        "decks": draw.integers(90010, 90200, (2, 6)), "housings": draw.integers(27495, 27512, 5)}


@pytest.mark.parametrize("seed", range(12))
def test_carrying_out_the_list_gives_the_planned_block(service, seed):
    block = invented(seed)
    inch = lambda value: float(exact(value))
    plan = {
        "bore": 4.03, "honing_allowance": 0.005, "least_wall": 0.12, "deck_height": 9.0, "main_housing_bore": 2.75,
        "cap_cut": 0.004, "sleeve": {"outside_diameter": 4.2, "inside_diameter": 3.99, "interference": 0.0025},
        "stock_per_pass": {"boring": 0.012, "milling": 0.003}}
    answer = service.post(PATH, {"units": "inch", "plan": plan, "measured": {
        "cylinders": [
            {"number": 10 + n, "smallest_bore": inch(t), "largest_bore": inch(l), "thinnest_wall": inch(w)}
            for n, (t, l, w) in enumerate(zip(block["tight"], block["large"], block["wall"]))],
        "banks": [{"number": n, "deck_heights": list(map(inch, heights))} for n, heights in enumerate(block["decks"])],
        "main_housings": [{"number": n, "bore": inch(bore)} for n, bore in enumerate(block["housings"])]}})

    bores = {10 + n: exact(t) for n, t in enumerate(block["tight"])}
    walls = {10 + n: exact(w) for n, w in enumerate(block["wall"])}
    decks = {n: max(map(exact, heights)) for n, heights in enumerate(block["decks"])}
    housings = {n: exact(bore) for n, bore in enumerate(block["housings"])}
    done, sleeved = set(), set()
    for line in answer["operations"]:
        assert all(constraint["after"] in done for constraint in line["constraints"])
        done.add(line["sequence"])
        assert line["count"] == len(line["numbers"])
        stock = Fraction(line.get("stock", 0)).limit_denominator(10**6)
        limit = {"bore_for_sleeve": Fraction(12, 1000), "bore_cylinder": Fraction(12, 1000),
                 "deck_block": Fraction(3, 1000), "cut_main_caps": Fraction(3, 1000)}.get(line["operation"])
        if limit:
            # Pass by pass until nothing is left.
            left, passes = stock, 0
            while left > 0:
                left, passes = left - limit, passes + 1
            assert line["passes"] == passes
        for number in line["numbers"]:
            match line["operation"]:
                case "cut_main_caps":
                    housings[number] -= stock
                case "line_hone":
                    # One hone runs through all: the tightest housing has all of the stock.
                    assert stock == Fraction(275, 100) - min(housings.values())
                case "deck_block":
                    decks[number] -= stock
                case "bore_for_sleeve":
                    bores[number] += stock
                    walls[number] -= stock / 2
                case "fit_sleeve":
                    assert bores[number] == Fraction(41975, 10000)
                    bores[number] = Fraction(399, 100)
                    sleeved.add(number)
                case "bore_cylinder" | "hone_cylinder":
                    bores[number] += stock
                    if number not in sleeved:
                        walls[number] -= stock / 2
    assert set(bores.values()) == {Fraction(403, 100)}
    assert set(decks.values()) == {Fraction(9)}
    # Exactly the cylinders that are too large or too thin got the sleeve.
    too_thin = lambda n: exact(block["wall"][n]) - (Fraction(403, 100) - exact(block["tight"][n])) / 2 < Fraction(12, 100)
    assert sleeved == {10 + n for n in range(8) if too_thin(n) or exact(block["large"][n]) > Fraction(403, 100)}
    for left in answer["walls"]:
        assert left["sleeved"] == (left["cylinder"] in sleeved)
        assert abs(left["wall"] - float(walls[left["cylinder"]])) < 1e-12


def test_sizes_on_their_limits_in_mixed_units_are_on_them(service):
    """4.03 in is 102.362 mm exactly: no sleeve, no second line and no refusal may come from rounding."""
    answer = service.post(PATH, {
        "units": "inch", "plan": {"bore": 4.03, "honing_allowance": ".127 mm", "least_wall": "2.54 mm", "deck_height": "228.6 mm",
                                  "sleeve": {"outside_diameter": 4.2, "inside_diameter": "4.025 in", "interference": 0}},
        "measured": {
            "cylinders": [
                {"number": 1, "largest_bore": "102.362 mm", "smallest_bore": 4.002, "thinnest_wall": 0.114},
                {"number": 2, "largest_bore": 4.03, "smallest_bore": "101.6508 mm", "thinnest_wall": "2.8956 mm"}],
            "banks": [{"number": 1, "deck_heights": [9.0, "228.6 mm"]}]}})
    assert [line["operation"] for line in answer["operations"]] == ["bore_cylinder", "hone_cylinder"]
    assert all(line["numbers"] == [1, 2] for line in answer["operations"])
    assert not any(wall["sleeved"] for wall in answer["walls"])
    assert [caution["code"] for caution in answer["cautions"]] == ["hone_must_clean_up"] * 2 + ["measure_and_mock_up"]
