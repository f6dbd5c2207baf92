"""Time from process start to the first answer, and idle memory: our service beside the bare handler.

    python3 tests/load/start.py [rounds]
"""

import http.client
import json
import pathlib
import re
import socket
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
RELEASE = ROOT / "target" / "release"
BODY = json.dumps(json.loads((ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_text()))


def measure(command):
    """Milliseconds to the first answer, and resident KiB half a second later."""
    started = time.perf_counter()
    server = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    host, port = re.search(r"(127\.0\.0\.1):(\d+)", server.stdout.readline()).groups()
    connection = http.client.HTTPConnection(host, int(port))
    connection.connect()
    connection.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    connection.request("POST", "/v1/builds/evaluate", BODY, {"Content-Type": "application/json"})
    assert connection.getresponse().read()
    first = 1000 * (time.perf_counter() - started)
    time.sleep(0.5)
    status = pathlib.Path(f"/proc/{server.pid}/status").read_text()
    server.terminate()
    server.wait()
    return first, int(re.search(r"VmRSS:\s+(\d+)", status).group(1))


def main():
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    commands = {
        "service": [RELEASE / "blockwright", "--address", "127.0.0.1:0"],
        "bare": [RELEASE / "examples" / "bare"],
    }
    for name, command in commands.items():
        runs = [measure(command) for _ in range(rounds)]
        first, memory = (statistics.median(column) for column in zip(*runs))
        print(f"{name}: first answer {first:.1f} ms after process start, {memory / 1024:.1f} MiB resident (median of {rounds})")


if __name__ == "__main__":
    main()
