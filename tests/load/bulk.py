"""Many builds at once, each beside its yardstick, in turn: lines of JSON beside a loop that only reads and writes them
(service/examples/lines.rs), a CSV table beside polars, and single calls while a stream runs.

    target/venv/bin/pip install -r tests/load/requirements.txt
    target/venv/bin/python tests/load/bulk.py [--lines 300000] [--rows 1000000] [--rounds 3] [--long 10000000] [--binaries FOLDER]

`--long` is the number of lines of the memory run; `--binaries` is where the binaries are (target/dist when not given).
"""

import argparse
import http.client
import json
import os
import pathlib
import random
import re
import resource
import statistics
import subprocess
import sys
import tempfile
import threading
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
DEMO = json.loads((ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_text())


def builds(count, seed=1):
    """Builds that differ: the demo with other bores, strokes, chambers."""
    choose = random.Random(seed)
    for number in range(count):
        build = json.loads(json.dumps(DEMO))
        build["id"] = f"lantern-bay-{number:07}"
        build["block"]["bore"] = round(4.13 + choose.random() / 30, 4)
        build["crankshaft"]["stroke"] = round(3.86 + choose.random() / 20, 4)
        build["cylinder_head"]["chamber_volume"] = round(65 + 10 * choose.random(), 2)
        yield build


def flat(build, prefix=""):
    for name, value in build.items():
        if isinstance(value, dict):
            yield from flat(value, f"{prefix}{name}.")
        else:
            yield f"{prefix}{name}", value


def write_lines(path, count):
    distinct = [json.dumps({"id": str(number), "request": build}) + "\n" for number, build in enumerate(builds(1000))]
    with open(path, "w") as file:
        for start in range(0, count, 1000):
            file.writelines(distinct[: count - start])


def write_rows(path, count):
    extra = {"piston.pin_offset": 0.02, "camshaft.at_lift": 0.05, "camshaft.seat_difference": 21,
             "atmosphere.altitude": 900, "atmosphere.intake_temperature": 60}
    distinct = [{**dict(flat(build)), **extra} for build in builds(1000)]
    header = list(distinct[0])
    rows = [",".join(f'"{value}"' if "," in str(value) else str(value) for value in row.values()) + "\n" for row in distinct]
    with open(path, "w") as file:
        file.write(",".join(header) + "\n")
        for start in range(0, count, 1000):
            file.writelines(rows[: count - start])
    return len(header)


def timed(command, source, cores=None):
    """Seconds, and CPU seconds, of a command that reads a file and whose output is thrown away."""
    if cores is not None:
        command = ["taskset", "-c", cores, *command]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    started = time.perf_counter()
    with open(source) as file:
        subprocess.run(command, stdin=file, stdout=subprocess.DEVNULL, check=True)
    took = time.perf_counter() - started
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def lines_beside_the_loop(binaries, folder, count, rounds):
    path = folder / "lines.ndjson"
    write_lines(path, count)
    batch = [binaries / "blockwright", "batch", "builds/evaluate"]
    loop = [binaries / "examples" / "lines"]
    runs = []
    for number in range(rounds):
        one, alone, both = timed(batch, path, "0"), timed(loop, path, "0"), timed(batch, path)
        runs.append((alone[0] / one[0], alone[1] / one[1], one[0] / both[0], count / one[0], count / alone[0], count / both[0]))
        print(f"round {number + 1}: batch {count / one[0]:,.0f} lines/s on one core, {count / both[0]:,.0f} on all; "
              f"loop {count / alone[0]:,.0f}; ratio {runs[-1][0]:.3f} by time, {runs[-1][1]:.3f} by CPU time; "
              f"all cores {runs[-1][2]:.2f} times one", flush=True)
    by_time, by_cpu, cores = (statistics.median(column) for column in list(zip(*runs))[:3])
    print(f"lines: median ratio {by_time:.3f} by time, {by_cpu:.3f} by CPU time (wanted 0.85), cores {cores:.2f} (wanted 1.8)")


POLARS = """
import sys, math
import polars as pl
c = pl.col
table = pl.read_csv(sys.argv[1])
bore, stroke, gasket = c("block.bore"), c("crankshaft.stroke"), c("head_gasket.bore")
swept = math.pi / 4 * bore**2 * stroke
deck = c("block.deck_height") - stroke / 2 - c("connecting_rod.length") - c("piston.compression_height")
cc = 16.387064
volumes = {
    "chamber": c("cylinder_head.chamber_volume"),
    "gasket": math.pi / 4 * gasket**2 * c("head_gasket.compressed_thickness") * cc,
    "deck": math.pi / 4 * bore**2 * deck * cc,
    "dish": c("piston.dish_volume"),
    "land": math.pi / 4 * (bore**2 - c("piston.top_land_diameter")**2) * c("piston.top_land_height") * cc,
}
clearance = sum(volumes.values())
speed = c("running.engine_speed") * stroke / 6
results = {"swept": swept, "displacement": swept * c("engine.cylinders"), "deck_clearance": deck, "clearance": clearance,
           "ratio": 1 + swept * cc / clearance, "rod_ratio": c("connecting_rod.length") / stroke, "bore_stroke": bore / stroke,
           "speed": speed, "squish": deck + c("head_gasket.compressed_thickness"), **volumes}
extra = {f"more_{n}": clearance * (1 + n / 7) + swept for n in range(40 - len(results))}
table.with_columns(**results, **extra).write_csv(sys.argv[2])
"""


def table_beside_polars(binaries, folder, count, rounds):
    path = folder / "rows.csv"
    columns = write_rows(path, count)
    ours = [binaries / "blockwright", "table", "builds/evaluate"]
    python = sys.executable
    out = []
    for number in range(rounds):
        table = timed(ours, path)
        polars = timed([python, "-c", POLARS, str(path), str(folder / "polars.csv")], path)
        out.append((table[0], polars[0]))
        print(f"round {number + 1}: table {table[0]:.2f} s ({table[1]:.2f} s CPU), polars {polars[0]:.2f} s ({polars[1]:.2f} s CPU)", flush=True)
    table, polars = (min(column) for column in zip(*out))
    print(f"{count:,} rows of {columns} columns: table {table:.2f} s (wanted 1.3), polars {polars:.2f} s for 40 simpler columns; best of {rounds}")


def memory_of_a_long_stream(binaries, folder, count):
    """Highest resident MiB after the first lines of an endless batch, and after all of them."""
    source = (folder / "lines.ndjson").read_bytes()
    lines = source.count(b"\n")
    batch = subprocess.Popen([binaries / "blockwright", "batch", "builds/evaluate"], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    last = [b""]

    def drain():
        while block := os.read(batch.stdout.fileno(), 1 << 20):
            last[0] = (last[0] + block)[-200:]

    reader = threading.Thread(target=drain)
    reader.start()
    sizes = []
    for _ in range(max(2, count // lines)):
        batch.stdin.write(source)
        status = pathlib.Path(f"/proc/{batch.pid}/status").read_text()
        sizes.append(int(re.search(r"VmHWM:\s+(\d+)", status).group(1)) / 1024)
    batch.stdin.close()
    reader.join()
    batch.wait()
    print(f"memory: {sizes[0]:.1f} MiB after {lines:,} lines, at most {sizes[-1]:.1f} MiB over {lines * len(sizes):,} lines "
          f"(wanted less than 32 MiB more); {last[0].splitlines()[-1].decode()}")


def single_calls_beside_a_stream(binaries, folder):
    server = subprocess.Popen([binaries / "blockwright", "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", server.stdout.readline()).group()
    stream = subprocess.Popen(
        ["curl", "-s", "-T", folder / "lines.ndjson", "-X", "POST", "-H", "Content-Type: application/x-ndjson", "-H", "Expect:",
         "-o", "/dev/null", "-w", "%{time_total}", f"http://{address}/v1/builds/evaluate/stream"], stdout=subprocess.PIPE, text=True)
    body, times = json.dumps(DEMO), []
    connection = http.client.HTTPConnection(address)
    while stream.poll() is None:
        started = time.perf_counter()
        connection.request("POST", "/v1/builds/evaluate", body, {"Content-Type": "application/json"})
        connection.getresponse().read()
        times.append(1000 * (time.perf_counter() - started))
        time.sleep(0.002)
    took = float(stream.stdout.read())
    server.terminate()
    server.wait()
    times.sort()
    lines = (folder / "lines.ndjson").read_bytes().count(b"\n")
    print(f"stream over HTTP: {lines / took:,.0f} lines/s; single calls beside it: p50 {times[len(times) // 2]:.2f} ms, "
          f"p99 {times[int(0.99 * len(times))]:.2f} ms of {len(times)} (wanted less than 10)")


def main():
    parser = argparse.ArgumentParser()
    for name, default in [("lines", 300_000), ("rows", 1_000_000), ("rounds", 3), ("long", 2_000_000)]:
        parser.add_argument(f"--{name}", type=int, default=default)
    parser.add_argument("--binaries", type=pathlib.Path, default=ROOT / "target" / "dist")
    options = parser.parse_args()
    if options.binaries == ROOT / "target" / "dist":
        subprocess.run(["cargo", "build", "--profile", "dist", "-p", "service", "--bin", "blockwright", "--example", "lines"],
                       cwd=ROOT, check=True)
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        lines_beside_the_loop(options.binaries, folder, options.lines, options.rounds)
        single_calls_beside_a_stream(options.binaries, folder)
        memory_of_a_long_stream(options.binaries, folder, options.long)
        table_beside_polars(options.binaries, folder, options.rows, options.rounds)


if __name__ == "__main__":
    main()
