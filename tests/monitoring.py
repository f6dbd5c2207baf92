"""Checks the alert rules with their unit tests, and that rules and dashboard ask for nothing that the service does not count.

    python3 tests/monitoring.py          needs promtool
"""

import itertools
import json
import os
import pathlib
import re
import subprocess
import tempfile
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[1]
FOLDER = ROOT / "docker" / "monitoring"


def promtool(*arguments):
    done = subprocess.run(["promtool", *map(str, arguments)], cwd=FOLDER, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr


def counted():
    """Names of the series that a running service shows."""
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    process = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    try:
        address = re.search(r"127\.0\.0\.1:\d+", process.stdout.readline()).group()
        with urllib.request.urlopen(f"http://{address}/metrics", timeout=10) as response:
            text = response.read().decode()
    finally:
        process.terminate()
        process.wait(timeout=30)
    return {re.match(r"[a-z_]+", line).group() for line in text.splitlines() if not line.startswith("#")}


def expressions(dashboard):
    for panel in dashboard["panels"]:
        for target in panel["targets"]:
            # What the dashboard fills in by itself.
            yield target["expr"].replace("$__rate_interval", "5m").replace("$route", ".*")


def cells(panel):
    place = panel["gridPos"]
    assert place["x"] + place["w"] <= 24, panel["title"]
    return set(itertools.product(range(place["x"], place["x"] + place["w"]), range(place["y"], place["y"] + place["h"])))


def main():
    promtool("check", "config", "prometheus.yaml")
    promtool("test", "rules", "alerts_test.yaml")
    dashboard = json.loads((FOLDER / "dashboard.json").read_text())
    asked = list(expressions(dashboard))
    # As recording rules the expressions of the dashboard are read by the same parser.
    rules = {"groups": [{"name": "panels", "rules": [{"record": f"panel:{n}", "expr": e} for n, e in enumerate(asked)]}]}
    with tempfile.NamedTemporaryFile("w", suffix=".yaml") as file:
        json.dump(rules, file)
        file.flush()
        promtool("check", "rules", file.name)
    taken = set()
    for panel in dashboard["panels"]:
        assert not taken & cells(panel), f"{panel['title']} lies over another panel"
        taken |= cells(panel)
    shown = counted()
    for text in [*asked, (FOLDER / "alerts.yaml").read_text()]:
        unknown = set(re.findall(r"blockwright_[a-z_]+(?=[{\[)\s])", text)) - shown
        assert not unknown, f"nothing counts {unknown}"
    print(f"{len(asked)} expressions of the dashboard and the alert rules are sound")


if __name__ == "__main__":
    main()
