"""The load run: our service beside the bare handler of service/examples/bare.rs, in turn, under the same load.

    python3 tests/load/run.py [rounds]

One worker each, 64 connections, the demo build as body. Prints requests per second of both and the ratio of each round.
"""

import json
import os
import pathlib
import re
import shutil
import statistics
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELEASE = ROOT / "target" / "release"
SECONDS = 5


def start(command):
    """Starts a server; gives it and the address it printed."""
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", server.stdout.readline())
    return server, address.group()


def load(address, body):
    """Requests per second under wrk, refused answers counted as a failure of the run."""
    script = str(ROOT / "tests" / "load" / "post.lua")
    command = ["wrk", "-t1", "-c64", f"-d{SECONDS}s", "-s", script, f"http://{address}/v1/builds/evaluate"]
    report = subprocess.run(command, env={**os.environ, "LOAD_BODY": body}, capture_output=True, text=True, check=True).stdout
    if "Non-2xx" in report:
        raise SystemExit(f"some requests were refused:\n{report}")
    return float(re.search(r"Requests/sec:\s+([\d.]+)", report).group(1))


def main():
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    if shutil.which("wrk") is None:
        raise SystemExit("wrk is missing: apt-get install wrk")
    body = str(ROOT / "target" / "load_body.json")
    demo = json.loads((ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_text())
    pathlib.Path(body).write_text(json.dumps(demo))
    subprocess.run(
        ["cargo", "build", "--release", "-p", "service", "--bin", "blockwright", "--example", "bare"], cwd=ROOT, check=True
    )
    ours, our_address = start([RELEASE / "blockwright", *os.environ.get("EXTRA","").split(), "--workers", "1", "--address", "127.0.0.1:0"])
    bare, bare_address = start([RELEASE / "examples" / "bare"])
    try:
        load(our_address, body), load(bare_address, body)  # warm up
        ratios = []
        for number in range(rounds):
            pair = load(our_address, body), load(bare_address, body)
            ratios.append(pair[0] / pair[1])
            print(f"round {number + 1}: service {pair[0]:,.0f}/s, bare {pair[1]:,.0f}/s, ratio {ratios[-1]:.3f}", flush=True)
        print(f"median ratio {statistics.median(ratios):.3f} (min {min(ratios):.3f}, max {max(ratios):.3f})")
    finally:
        for server in (ours, bare):
            server.terminate()
            server.wait()


if __name__ == "__main__":
    main()
