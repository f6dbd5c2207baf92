"""Tolerance of 100,000 random builds and goals over HTTP, beside numpy and scipy on the same arithmetic, in turn.

    target/venv/bin/python tests/load/whole_build.py
"""

import http.client
import json
import pathlib
import re
import statistics
import subprocess
import sys
import time

import numpy as np
from scipy.optimize import brentq, root

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "reference"))
from test_whole_build import BUILD, TOLERANCES, WATCHED, planned  # noqa: E402
from whole_build import results  # noqa: E402

DRAWS = 100_000
ONE = ([("/cylinder_head/chamber_volume", 40, 80)], [("/compression/static_ratio", 9.4)])
TWO = ([("/block/bore", 94.3, 97), ("/cylinder_head/chamber_volume", 40, 80)],
       [("/compression/static_ratio", 9.7), ("/compression/trapped_volume", 600)])
THREE = ([("/block/bore", 94.3, 97), ("/crankshaft/stroke", 84, 89), ("/cylinder_head/chamber_volume", 40, 90)],
         [("/geometry/displacement", 3700), ("/geometry/bore_stroke_ratio", 1.09), ("/compression/trapped_ratio", 8.0)])
NESTED = ([("/crankshaft/stroke", 85, 89), ("/cylinder_head/chamber_volume", 45, 70), ("/camshaft/intake_closes_abdc", 40, 80)],
          [("/compression/static_ratio", 8.73), ("/compression/trapped_ratio", 7.1), ("/compression/trapped_volume", 560)])


def timed(work):
    started = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - started)


def compare(what, ours, theirs, name, rounds):
    pairs = [(timed(ours), timed(theirs)) for _ in range(rounds)]
    best = [min(column) for column in zip(*pairs)]
    middle = [statistics.median(column) for column in zip(*pairs)]
    print(f"{what}: service best {best[0]:.2f} ms, median {middle[0]:.2f} ms; {name} best {best[1]:.2f} ms, median {middle[1]:.2f} ms")


def by_numpy(random):
    inputs = {pointer: planned(pointer) + random.uniform(-size, size, DRAWS) for pointer, size in TOLERANCES.items()}
    found = results(inputs)
    for pointer in WATCHED:
        found[pointer].mean(), found[pointer].std(), np.percentile(found[pointer], [2.5, 50, 97.5])


def by_scipy(unknowns, wanted):
    if len(unknowns) == 1:
        [(pointer, low, high)], [(result, target)] = unknowns, wanted
        return brentq(lambda x: results({pointer: x})[result] - target, low, high, xtol=1e-12)
    pointers = [unknown[0] for unknown in unknowns]
    scale = np.array([high - low for _, low, high in unknowns])

    def missing(x):
        found = results(dict(zip(pointers, x * scale)))
        return [found[pointer] / target - 1 for pointer, target in wanted]

    return root(missing, np.array([(low + high) / 2 for _, low, high in unknowns]) / scale, tol=1e-12)


def main():
    binary = ROOT / "target" / "release" / "blockwright"
    server = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    host, port = re.search(r"(127\.0\.0\.1):(\d+)", server.stdout.readline()).groups()
    connection = http.client.HTTPConnection(host, int(port))

    def post(path, body):
        connection.request("POST", path, json.dumps(body), {"Content-Type": "application/json"})
        answer = connection.getresponse()
        body = answer.read()
        assert answer.status == 200, body

    random = np.random.default_rng(1)
    tolerance = {
        "build": BUILD, "draws": DRAWS, "results": [{"pointer": pointer} for pointer in WATCHED],
        "tolerances": [{"pointer": pointer, "tolerance": size} for pointer, size in TOLERANCES.items()]}
    what = f"{DRAWS:,} builds of {len(TOLERANCES)} inputs, {len(WATCHED)} results"
    compare(what, lambda: post("/v1/builds/tolerance", tolerance), lambda: by_numpy(random), "numpy (these results only)", 9)
    cases = [("one unknown", ONE), ("two that act on each other", TWO), ("three", THREE), ("three that act on each other", NESTED)]
    for what, (unknowns, wanted) in cases:
        goal = {
            "build": BUILD,
            "unknowns": [{"pointer": pointer, "min": low, "max": high} for pointer, low, high in unknowns],
            "wanted": [{"pointer": pointer, "equal": target} for pointer, target in wanted]}
        compare(f"goal, {what}", lambda: post("/v1/builds/goal", goal), lambda: by_scipy(unknowns, wanted), "scipy", 25)
    server.terminate()
    server.wait()


if __name__ == "__main__":
    main()
