"""Opens the documentation page in headless Chromium and reads what it rendered.

    python3 tests/docs_page.py [screenshot.png]
"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile

ROOT = pathlib.Path(__file__).resolve().parents[1]


def chromium(address, profile, *arguments):
    command = [
        "chromium", "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
        f"--user-data-dir={profile}", "--virtual-time-budget=15000", "--window-size=1280,2000", *arguments, f"http://{address}/docs/"]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout


def main():
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    process = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    address = re.search(r"127\.0\.0\.1:\d+", process.stdout.readline()).group()
    try:
        with tempfile.TemporaryDirectory() as profile:
            page = chromium(address, profile, "--dump-dom")
            for wanted in ["Blockwright", "/v1/builds/evaluate", "/v1/geometry/piston-motion", "A build sheet and every consequence of it"]:
                assert wanted in page, f"'{wanted}' was not rendered"
            # Everything that the page loads comes from the service itself.
            foreign = [url for url in re.findall(r'(?:src|href)="(https?://[^"]+)"', page) if address not in url]
            loaded = [url for url in foreign if not url.startswith("https://spdx.org/")]
            assert not loaded, f"the page refers to {loaded}"
            if len(sys.argv) > 1:
                chromium(address, profile, f"--screenshot={sys.argv[1]}")
        print("the documentation page renders every area and loads nothing from elsewhere")
    finally:
        process.terminate()
        process.wait(timeout=30)


if __name__ == "__main__":
    main()
