"""The best combinations of a parts catalogue: the service over HTTP beside DuckDB and numpy on the same catalogue, in turn.

    target/venv/bin/python tests/load/fit.py
"""

import json
import pathlib
import re
import statistics
import subprocess
import sys
import time
import urllib.request

import numpy as np

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "reference"))
from parts_catalogue import BORE, CC_PER_IN3, DECK, LIMITS, Database, catalogue, request  # noqa: E402

SMALL, LARGE = (40, 60, 120, 50, 30), (200, 500, 1000, 200, 50)
RULES = [{"name": "squish", "pointer": "/geometry/squish_clearance", "at_least": 0.038, "severity": "caution", "text": "Tight."}]


def by_service(address, body):
    asked = urllib.request.Request(f"http://{address}/v1/builds/fit", body, {"Content-Type": "application/json"})
    started = time.perf_counter()
    with urllib.request.urlopen(asked) as response:
        answer = response.read()
    return time.perf_counter() - started, json.loads(answer)


def by_duckdb(database):
    """What fits, its count and the best twenty, in one query."""
    level = database.levels(LIMITS, 0.0)[3]
    query = f"""WITH fits AS MATERIALIZED ({level})
        SELECT ci, ri, pi, gi, hi, (SELECT count(*) FROM fits) FROM fits
        ORDER BY ceil((abs(ratio - 9.5) - 1e-9) / 0.02), round(price * 10000), ci, ri, pi, gi, hi LIMIT 20"""
    started = time.perf_counter()
    rows = database.connection.execute(query).fetchall()
    return time.perf_counter() - started, rows


def by_staged_numpy(parts):
    """Counts what fits: first the trios that the deck allows, then their gaskets, then heads by bisection."""
    columns = {slot: {name: np.array([row[name] for row in rows], dtype=float) for name in rows[0]} for slot, rows in parts.items()}
    crank, rod, piston, gasket, head = columns.values()
    started = time.perf_counter()
    deck, squish, ratio = LIMITS.values()
    pairs = (crank["rod_journal"][:, None] == rod["rod_journal"]) & (rod["length"] > crank["stroke"][:, None])
    ci, ri = np.nonzero(pairs)
    clearance = DECK - (crank["stroke"][ci] / 2 + rod["length"][ri])[:, None] - piston["compression_height"]
    keys = rod["pin_diameter"][ri][:, None] == piston["pin_diameter"]
    pair, pi = np.nonzero(keys & (clearance >= deck[0] - 1e-7) & (clearance <= deck[1] + 1e-7))
    clearance = clearance[pair, pi]
    together = clearance[:, None] + gasket["compressed_thickness"]
    trio, gi = np.nonzero((together >= squish[0] - 1e-7) & (together <= squish[1] + 1e-7))
    area = np.pi / 4 * BORE**2 * CC_PER_IN3
    volume = np.pi / 4 * gasket["bore"] ** 2 * gasket["compressed_thickness"] * CC_PER_IN3
    rest = (piston["dish_volume"] - piston["dome_volume"])[pi] + area * clearance
    rest = rest[trio] + volume[gi]
    swept = area * crank["stroke"][ci[pair[trio]]]
    chambers = np.sort(head["chamber_volume"])
    high = np.searchsorted(chambers, swept / (ratio[0] - 1 - 1e-8) - rest, side="right")
    low = np.searchsorted(chambers, swept / (ratio[1] - 1 + 1e-8) - rest, side="left")
    count = int(np.maximum(high - low, 0).sum())
    return time.perf_counter() - started, count


def memory(process, name="VmHWM"):
    status = pathlib.Path(f"/proc/{process}/status").read_text()
    return int(re.search(rf"{name}:\s+(\d+) kB", status).group(1)) / 1024


def report(name, times):
    times = [1000 * seconds for seconds in times]
    print(f"  {name}: best {min(times):.1f} ms, median {statistics.median(times):.1f} ms")


def main():
    binary = ROOT / "target" / "release" / "blockwright"
    server = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", server.stdout.readline()).group()
    try:
        compare(address, server.pid)
        largest(address, server.pid)
    finally:
        server.terminate()
        server.wait()


def compare(address, process):
    parts = catalogue(SMALL)
    body = json.dumps(request(parts, rules=RULES)).encode()
    database = Database(parts)
    at_rest = memory(process, "VmRSS")
    ours, duck, staged = [], [], []
    for _ in range(15):
        seconds, answer = by_service(address, body)
        ours.append(seconds)
        seconds, rows = by_duckdb(database)
        duck.append(seconds)
        seconds, count = by_staged_numpy(parts)
        staged.append(seconds)
    slots = list(parts)
    best = [tuple(one["parts"][slot]["place"] for slot in slots) for one in answer["best"]]
    assert best == [row[:5] for row in rows] and answer["fitting"] == rows[0][5] == count
    print(f"{answer['considered']:,} combinations, {answer['fitting']:,} fit, the best 20:")
    report("service over HTTP, with keys, rules, ranking and answers", ours)
    report("DuckDB, count and best 20 (without answers)", duck)
    report("numpy in stages, count only", staged)
    print(f"  DuckDB takes {statistics.median(duck) / statistics.median(ours):.0f} times as long (medians)")
    print(f"  memory of the whole service: {at_rest:.1f} MiB before, {memory(process):.1f} MiB at most")


def largest(address, process):
    parts = catalogue(LARGE)
    cases = {
        "ratio, then price": request(parts),
        "price, then ratio": request(parts, ("price", "static_ratio")),
        "price, deck clearance up to 0.05 in, squish 0.03 to 0.06 in, ratio 9 to 10": request(
            parts, ("price",), limits={"/geometry/deck_clearance": (0, 0.05), "/geometry/squish_clearance": (0.03, 0.06),
                                       "/compression/static_ratio": (9, 10)}),
        "price, no limit but the ratio": request(parts, ("price",), limits={"/compression/static_ratio": (9.4, 9.6)}),
        "price, then ratio, decks cut up to 0.01 in": request(parts, ("price", "static_ratio"), deck_cut={"most": 0.01}),
    }
    for name, asked in cases.items():
        body = json.dumps(asked).encode()
        runs = [by_service(address, body) for _ in range(5)]
        answer = runs[0][1]
        print(f"{answer['considered']:,} combinations, {answer['fitting']:,} fit; {name}:")
        report("service over HTTP", [seconds for seconds, _ in runs])
    print(f"  memory of the whole service: {memory(process):.1f} MiB at most")


if __name__ == "__main__":
    main()
