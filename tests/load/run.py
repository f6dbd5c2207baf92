"""The load run: our service beside the bare handler of service/examples/bare.rs, in turn, under the same load.

    python3 tests/load/run.py [rounds]

One worker each, 64 connections, the demo build as body. Prints requests per second of both, requests per second of the servers' own
CPU time, and the ratios of each round. On a machine with other work the second ratio is the sound one: it counts what the server
itself used, whoever else had the cores meanwhile. BLOCKWRIGHT_PROFILE names the build (dist, as shipped, when not set).
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
PROFILE = os.environ.get("BLOCKWRIGHT_PROFILE", "dist")
BUILT = ROOT / "target" / PROFILE
SECONDS = 5


def start(command):
    """Starts a server; gives it and the address it printed."""
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", server.stdout.readline())
    return server, address.group()


def cpu_seconds(server):
    """User and system time that a server has used."""
    fields = pathlib.Path(f"/proc/{server.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def load(server, address, body):
    """Requests per second under wrk, and per second of CPU; refused answers are a failure of the run."""
    script = str(ROOT / "tests" / "load" / "post.lua")
    command = ["wrk", "-t1", "-c64", f"-d{SECONDS}s", "-s", script, f"http://{address}/v1/builds/evaluate"]
    before = cpu_seconds(server)
    report = subprocess.run(command, env={**os.environ, "LOAD_BODY": body}, capture_output=True, text=True, check=True).stdout
    used = cpu_seconds(server) - before
    if "Non-2xx" in report:
        raise SystemExit(f"some requests were refused:\n{report}")
    requests = int(re.search(r"(\d+) requests in", report).group(1))
    return float(re.search(r"Requests/sec:\s+([\d.]+)", report).group(1)), requests / used


def main():
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    if shutil.which("wrk") is None:
        raise SystemExit("wrk is missing: apt-get install wrk")
    body = str(ROOT / "target" / "load_body.json")
    demo = json.loads((ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_text())
    pathlib.Path(body).write_text(json.dumps(demo))
    subprocess.run(["cargo", "build", "--profile", PROFILE, "-p", "service", "--bin", "blockwright", "--example", "bare"],
                   cwd=ROOT, check=True)
    ours, our_address = start([BUILT / "blockwright", "--workers", "1", "--address", "127.0.0.1:0"])
    bare, bare_address = start([BUILT / "examples" / "bare"])
    try:
        load(ours, our_address, body), load(bare, bare_address, body)  # warm up
        ratios = []
        for number in range(rounds):
            (rate, by_cpu), (bare_rate, bare_by_cpu) = load(ours, our_address, body), load(bare, bare_address, body)
            ratios.append((rate / bare_rate, by_cpu / bare_by_cpu))
            print(f"round {number + 1}: service {rate:,.0f}/s, bare {bare_rate:,.0f}/s, ratio {ratios[-1][0]:.3f}; "
                  f"by CPU time {by_cpu:,.0f}/s, {bare_by_cpu:,.0f}/s, ratio {ratios[-1][1]:.3f}", flush=True)
        for what, column in zip(("throughput", "throughput by CPU time"), zip(*ratios)):
            print(f"{what}: median ratio {statistics.median(column):.3f} (min {min(column):.3f}, max {max(column):.3f})")
    finally:
        for server in (ours, bare):
            server.terminate()
            server.wait()


if __name__ == "__main__":
    main()
