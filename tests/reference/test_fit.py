"""The parts catalogue against DuckDB (a cross join with filters) and numpy (every combination in one array)."""

import csv
import io
import json
import pathlib

import pytest
from parts_catalogue import LIMITS, WIDE, Database, by_numpy, catalogue, request

SLOTS = ("crankshaft", "connecting_rod", "piston", "head_gasket", "cylinder_head")
ROOT = pathlib.Path(__file__).resolve().parents[2]
ORDERS = [("static_ratio", "price"), ("price", "static_ratio"), ("static_ratio",), ("price",)]


def found(answer):
    """What is left after the keys and after each limit, and the places of the best."""
    rejected = {one.get("rule") or one["pointer"]: one["combinations"] for one in answer["rejected"]}
    left = answer["considered"] - sum(n for name, n in rejected.items() if name not in LIMITS and name != "highest_ratio")
    counts = [left]
    for place in LIMITS:
        if place == "/compression/static_ratio":
            left -= rejected["highest_ratio"]
        left -= rejected[place]
        counts.append(left)
    assert left == answer["fitting"]
    best = [tuple(one["parts"][slot]["place"] for slot in SLOTS) for one in answer["best"]]
    return counts, best


@pytest.mark.parametrize("preference", ORDERS)
@pytest.mark.parametrize("seed", range(6))
def test_counts_and_best_are_those_of_duckdb_and_numpy(service, seed, preference):
    parts = catalogue((7, 9, 40, 12, 9), seed)
    answer = service.post("/v1/builds/fit", request(parts, preference, limits=WIDE))
    counts, best = found(answer)
    numpy_counts, numpy_best = by_numpy(parts, preference, limits=WIDE)
    database = Database(parts)
    assert counts == numpy_counts == database.counts(WIDE)
    assert best == numpy_best == database.best(preference, limits=WIDE)[0]
    assert answer["considered"] == 7 * 9 * 40 * 12 * 9
    assert counts[-1] > 20 and len(best) == 20


@pytest.mark.parametrize("seed", range(4))
def test_deck_cuts_are_those_of_duckdb(service, seed):
    parts = catalogue((5, 7, 45, 9, 7), seed)
    answer = service.post("/v1/builds/fit", request(parts, deck_cut={"most": 0.02}))
    counts, best = found(answer)
    database = Database(parts)
    assert counts == database.counts(cut=0.02)
    wanted, cuts, ratios = database.best(cut=0.02)
    assert best == wanted
    assert any(cut > 1e-6 for cut in cuts)
    for one, cut, ratio in zip(answer["best"], cuts, ratios):
        assert one["deck_cut"] == pytest.approx(cut, abs=1e-7)
        assert one["compression"]["static_ratio"] == pytest.approx(ratio, abs=1e-6)


def test_four_hundred_million_combinations(service):
    parts = catalogue((40, 60, 120, 50, 30))
    answer = service.post("/v1/builds/fit", request(parts))
    counts, best = found(answer)
    database = Database(parts)
    assert answer["considered"] == 432_000_000
    assert counts == database.counts()
    assert best == database.best()[0]


def test_csv_text_is_the_same_catalogue(service):
    parts = catalogue((4, 5, 9, 4, 3))

    def text(rows):
        titles = {"stroke": "stroke [mm]", "chamber_volume": "chamber_volume [cc]"}
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow([titles.get(name, name) for name in rows[0]])
        writer.writerows([[f"{25.4 * row[name]:.6f}" if name == "stroke" else row[name] for name in row] for row in rows])
        return out.getvalue()

    asked = request(parts, limits={**WIDE, "/geometry/deck_clearance": (-0.1, 0.3), "/geometry/squish_clearance": (0, 0.4)})
    as_text = {**asked, "catalogue_csv": {slot: text(rows) for slot, rows in parts.items()}}
    del as_text["catalogue"]
    one, other = service.post("/v1/builds/fit", asked), service.post("/v1/builds/fit", as_text)
    assert one["fitting"] > 20
    for answer in (one, other):
        for combination in answer["best"]:
            # Twice the conversion is once the rounding.
            combination["geometry"] = combination["compression"] = None
            combination["standings"] = None
    assert one == other


def test_the_demo_catalogue_is_the_same_in_both_forms(service):
    example = json.loads((ROOT / "fixtures/examples/builds/fit.json").read_text())
    sheet = json.loads((ROOT / "fixtures/catalogues/lantern_bay.json").read_text())
    assert example["catalogue"] == sheet["catalogue"]
    texts = {slot: (ROOT / f"fixtures/catalogues/lantern_bay/{slot}.csv").read_text() for slot in sheet["catalogue"]}
    as_text = {**example, "catalogue_csv": texts}
    del as_text["catalogue"]
    assert service.post("/v1/builds/fit", example) == service.post("/v1/builds/fit", as_text)


def test_each_answer_is_that_of_its_build_sheet(service):
    parts = catalogue((7, 9, 40, 12, 9))
    asked = request(parts, limits=WIDE, deck_cut={"most": 0.01})
    answer = service.post("/v1/builds/fit", asked)
    assert len(answer["best"]) == 20
    for one in answer["best"]:
        chosen = {slot: parts[slot][one["parts"][slot]["place"]] for slot in SLOTS}
        dimensions = {
            slot: {k: v for k, v in part.items() if k not in ("part_number", "price", "pin_diameter", "rod_journal")}
            for slot, part in chosen.items()
        }
        sheet = {"units": "inch", **asked["base"], **dimensions}
        sheet["block"] = {**sheet["block"], "deck_height": one["deck_height"]}
        alone = service.post("/v1/builds/evaluate", sheet)
        for section in ("geometry", "compression"):
            for name, value in alone[section].items():
                if isinstance(value, float):
                    assert one[section][name] == pytest.approx(value, rel=1e-12, abs=1e-14), name
        assert one["price"] == pytest.approx(sum(part["price"] for part in chosen.values()), abs=1e-9)
