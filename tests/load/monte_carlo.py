"""A tolerance of 100,000 random engines: the service over HTTP beside numpy on the same parts, in turn.

    target/venv/bin/python tests/load/monte_carlo.py
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
from test_tolerance import NOMINAL, TOLERANCES, ratio_of, squish_of  # noqa: E402

DRAWS = 100_000


def by_service(address):
    body = json.dumps({"units": "metric", "nominal": NOMINAL, "tolerances": TOLERANCES, "draws": DRAWS}).encode()
    request = urllib.request.Request(
        f"http://{address}/v1/compression/tolerance", body, {"Content-Type": "application/json"})
    started = time.perf_counter()
    with urllib.request.urlopen(request) as response:
        response.read()
    return time.perf_counter() - started


def by_numpy(random):
    started = time.perf_counter()
    parts = {name: NOMINAL[name] + random.uniform(-TOLERANCES[name], TOLERANCES[name], DRAWS) for name in NOMINAL}
    for result in (ratio_of(parts), squish_of(parts)):
        result.mean(), result.std(), np.percentile(result, [2.5, 97.5])
    return time.perf_counter() - started


def main():
    binary = ROOT / "target" / "release" / "blockwright"
    server = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", server.stdout.readline()).group()
    random = np.random.default_rng(1)
    pairs = [(by_service(address), by_numpy(random)) for _ in range(11)]
    ours, numpy = (1000 * statistics.median(column) for column in zip(*pairs))
    print(f"{DRAWS:,} draws of {len(NOMINAL)} parts: service {ours:.1f} ms (with HTTP, shares and worst case), numpy {numpy:.1f} ms")
    server.terminate()
    server.wait()


if __name__ == "__main__":
    main()
