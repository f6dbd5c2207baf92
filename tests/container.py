"""Builds the image from a static binary and runs it as it should be run: no root, no capabilities, nothing to write on.

    python3 tests/container.py
"""

import asyncio
import datetime
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request

import worst

ROOT = pathlib.Path(__file__).resolve().parents[1]
LARGEST_IMAGE = 15_000_000


def run(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip()


def main():
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run([ROOT / "docker" / "build-static.sh", folder], check=True)
        kind = run("file", "-b", f"{folder}/blockwright")
        assert "static" in kind, kind
        run("docker", "build", "-f", str(ROOT / "docker" / "Dockerfile"), "-t", "blockwright-test", "--target", "prebuilt", folder)
    size = int(run("docker", "image", "inspect", "-f", "{{.Size}}", "blockwright-test"))
    assert size < LARGEST_IMAGE, f"the image has {size:,} bytes"
    # A kernel's limit of 64 MB, and settings that fit into it: docker/README.md has the sum.
    name = run("docker", "run", "-d", "--read-only", "--cap-drop", "ALL", "--security-opt", "no-new-privileges",
               "--memory", "64m", "--memory-swap", "64m", "-p", "127.0.0.1::8080",
               "-e", "BLOCKWRIGHT_BODY_MEMORY=12", "-e", "BLOCKWRIGHT_MOST_CONNECTIONS=128", "blockwright-test")
    try:
        address = run("docker", "port", name, "8080").splitlines()[0]
        answer = first_answer(address)
        assert 10 < answer["compression"]["static_ratio"] < 11, answer
        assert run("docker", "exec", name, "/blockwright", "healthcheck") == "ready"
        idle = worst.resident(int(state(name)["Pid"]), "VmRSS")
        # A quoting system's two clients, generated from the document, against the container.
        subprocess.run([sys.executable, ROOT / "tests" / "contract" / "contract.py", "--address", address, "clients"], check=True)
        started = min(seconds_to_ready(name) for _ in range(3))
        address = run("docker", "port", name, "8080").splitlines()[0]
        pid = state(name)["Pid"]
        statuses = sorted({status for status, _ in asyncio.run(worst.attack(address, 300))})
        peak = worst.resident(pid, "VmHWM")
        worst.still_answers(address)
        assert state(name)["Pid"] == pid and not state(name)["OOMKilled"], state(name)
        run("docker", "stop", "--time", "20", name)
        assert state(name)["ExitCode"] == 0 and not state(name)["OOMKilled"], state(name)
        print(f"image {size / 1e6:.1f} MB; ready after {1e3 * started:.0f} ms; {idle:.1f} MiB at rest; the worst requests were "
              f"answered with {statuses} in {peak:.0f} MiB")
        assert idle < 15 and started < 0.2, "larger or slower than it may be"
    finally:
        subprocess.run(["docker", "rm", "-f", name], capture_output=True)


def state(name):
    return json.loads(run("docker", "inspect", "-f", "{{json .State}}", name))


def first_answer(address):
    body = (ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_bytes()
    request = urllib.request.Request(f"http://{address}/v1/builds/evaluate", body, {"Content-Type": "application/json"})
    deadline = time.monotonic() + 20
    while True:
        try:
            with urllib.request.urlopen(request, timeout=5) as response:
                return json.load(response)
        except OSError:
            if time.monotonic() > deadline:
                raise
            time.sleep(0.02)


def seconds_to_ready(name):
    """From the start of the process, by the engine's clock, until it says that it is ready."""
    run("docker", "restart", "--time", "20", name)
    host = run("docker", "inspect", "-f", "{{range .NetworkSettings.Networks}}{{.IPAddress}}{{end}}", name)
    while True:
        try:
            with urllib.request.urlopen(f"http://{host}:8080/readyz", timeout=1):
                break
        except OSError:
            time.sleep(0.001)
    now = time.time()
    # The restart itself has waited for the process: what counts is when the service says it began to listen.
    begun = datetime.datetime.fromisoformat(state(name)["StartedAt"][:26].rstrip("Z") + "+00:00").timestamp()
    listening = [line for line in run("docker", "logs", "--timestamps", name).splitlines() if "listens on" in line][-1]
    listened = datetime.datetime.fromisoformat(listening[:26].rstrip("Z") + "+00:00").timestamp()
    return min(now, listened) - begun


if __name__ == "__main__":
    assert shutil.which("docker"), "docker is missing"
    main()
