"""Builds the image from a static binary and runs it as it should be run: no root, no capabilities, nothing to write on.

    python3 tests/container.py
"""

import json
import pathlib
import shutil
import subprocess
import tempfile
import time
import urllib.request

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
    started = time.monotonic()
    name = run("docker", "run", "-d", "--read-only", "--cap-drop", "ALL", "--security-opt", "no-new-privileges",
               "--memory", "64m", "-p", "127.0.0.1::8080", "blockwright-test")
    try:
        address = run("docker", "port", name, "8080").splitlines()[0]
        body = (ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_bytes()
        request = urllib.request.Request(f"http://{address}/v1/builds/evaluate", body, {"Content-Type": "application/json"})
        deadline = time.monotonic() + 20
        while True:
            try:
                with urllib.request.urlopen(request, timeout=5) as response:
                    answer = json.load(response)
                break
            except OSError:
                if time.monotonic() > deadline:
                    raise
                time.sleep(0.02)
        assert 10 < answer["compression"]["static_ratio"] < 11, answer
        assert run("docker", "exec", name, "/blockwright", "healthcheck") == "ready"
        run("docker", "stop", "--time", "20", name)
        state = json.loads(run("docker", "inspect", "-f", "{{json .State}}", name))
        assert state["ExitCode"] == 0 and not state["OOMKilled"], state
        print(f"image {size / 1e6:.1f} MB; answered {time.monotonic() - started:.1f} s after docker run, stop included")
    finally:
        subprocess.run(["docker", "rm", "-f", name], capture_output=True)


if __name__ == "__main__":
    assert shutil.which("docker"), "docker is missing"
    main()
