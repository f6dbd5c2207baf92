"""Holds a running service to its published document.

    python3 tests/contract/contract.py [--address HOST:PORT] [schemathesis] [clients]

Without an address it starts the service. It needs java for one generator, and installs nothing.

1. schemathesis sends what the document allows and what it forbids, to every operation, and checks every answer.
2. A Python and a Rust client are generated from the document; a quoting system uses each against the service.
"""

import argparse
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
TARGET = ROOT / "target" / "contract"
TOOLS = pathlib.Path(sys.executable).parent
DOCUMENT = ROOT / "openapi" / "openapi.json"
BLOCK = ROOT / "fixtures" / "blocks" / "slipway_v8.json"
BUILD = ROOT / "fixtures" / "builds" / "harbour_launch_v8.json"


def run(*command, timeout=600, **options):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=timeout, **options)
    assert done.returncode == 0, f"{command[0]}: {done.stdout[-6000:]}{done.stderr[-4000:]}"
    return done.stdout


def schemathesis(address):
    """Examples and random requests of both kinds; any undocumented answer or any 5xx fails. Lines of JSON and rows of CSV are
    more than the tool can write: `tests/tests/bulk.rs` and the fuzz targets send those."""
    run(TOOLS / "schemathesis", "--config-file", HERE / "schemathesis.toml", "run", DOCUMENT, "--url", f"http://{address}",
        "--exclude-path-regex", "/(stream|table)$", timeout=900, cwd=TARGET)


def python_client(address):
    client = TARGET / "python"
    shutil.rmtree(client, ignore_errors=True)
    run(TOOLS / "openapi-python-client", "generate", "--path", DOCUMENT, "--output-path", client, "--overwrite")
    environment = os.environ | {"PYTHONPATH": str(client)}
    return run(sys.executable, HERE / "quote.py", f"http://{address}", BLOCK, BUILD, env=environment)


MANIFEST = """[package]
name = "quote"
version = "0.1.0"
edition = "2024"

[[bin]]
name = "quote"
path = "{source}"

[dependencies]
blockwright_client = {{ path = "client", default-features = false }}
serde_json = "1"
tokio = {{ version = "1", features = ["rt", "macros"] }}

[workspace]
"""


def rust_client(address):
    project = TARGET / "rust"
    shutil.rmtree(project / "client", ignore_errors=True)
    project.mkdir(parents=True, exist_ok=True)
    run(TOOLS / "openapi-generator-cli", "generate", "-g", "rust", "-i", DOCUMENT, "-o", project / "client",
        "--additional-properties", "packageName=blockwright_client")
    # The generated package would be a workspace member of nothing; and the quoting system is ours, from this folder.
    (project / "Cargo.toml").write_text(MANIFEST.format(source=HERE / "quote.rs"))
    run("cargo", "build", "--quiet", cwd=project, timeout=1200)
    return run(project / "target" / "debug" / "quote", f"http://{address}", BLOCK)


def quoted(text):
    """What a quoting system printed: lines, their total, cautions, refusals."""
    lines = text.splitlines()
    total = next(line for line in lines if line.startswith("total "))
    return {
        "lines": sum(bool(re.match(r"\d+ ", line)) for line in lines),
        "total": float(total.split()[1]),
        "cautions": sorted(line for line in lines if line.startswith("caution ")),
        "refused": [line for line in lines if line.startswith("refused ")],
    }


def hold(address, asked):
    """Asks for what is asked for: `clients`, `schemathesis`."""
    TARGET.mkdir(parents=True, exist_ok=True)
    if "clients" in asked:
        by_python, by_rust = quoted(python_client(address)), quoted(rust_client(address))
        assert by_python == by_rust, f"{by_python} is not {by_rust}"
        assert by_python["lines"] > 5 and by_python["total"] > 0, by_python
        assert by_python["refused"] == ["refused 422 #/plan/bore bad_quantity"], by_python
        print(f"two generated clients quote alike: {json.dumps(by_python)}")
    if "schemathesis" in asked:
        schemathesis(address)
        print("the service keeps to its document")


def main():
    asking = argparse.ArgumentParser()
    asking.add_argument("--address")
    asking.add_argument("what", nargs="*", default=["schemathesis", "clients"])
    asked = asking.parse_args()
    if asked.address:
        return hold(asked.address, asked.what)
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    process = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    try:
        hold(re.search(r"127\.0\.0\.1:\d+", process.stdout.readline()).group(), asked.what)
        assert process.poll() is None, "the service ended"
    finally:
        process.terminate()
        process.wait(timeout=30)


if __name__ == "__main__":
    main()
