"""First inputs for the fuzz targets, made from the examples and the refused requests of fixtures.

    python3 tests/fuzz/seeds.py <folder>
"""

import csv
import io
import json
import pathlib
import sys
import urllib.parse

FIXTURES = pathlib.Path(__file__).resolve().parents[2] / "fixtures"
LONGEST = 4096  # the targets' own limit


def main(folder):
    for target, name, text in seeds():
        if len(text.encode()) <= LONGEST:
            place = folder / target
            place.mkdir(parents=True, exist_ok=True)
            (place / name).write_text(text, newline="")


def seeds():
    for calculation, number, request in requests():
        name = f"{calculation.replace('/', '-')}-{number}"
        text = request if isinstance(request, str) else json.dumps(request)
        yield "body", name, f"{calculation}\n{text}"
        leaves = flat(request) if isinstance(request, dict) else None
        if leaves:
            yield "query", name, f"{calculation}\n{urllib.parse.urlencode(leaves)}"
            yield "table", name, f"{calculation}\n\n{table(leaves, ',')}"
            comma = {key: text.replace(".", ",") for key, text in leaves.items()}
            yield "table", f"{name}-comma", f"{calculation}\ndec=comma\n{table(comma, ';')}"


def requests():
    for path in sorted((FIXTURES / "examples").rglob("*.json")):
        yield named(path, "examples"), "example", json.loads(path.read_text())
    for path in sorted((FIXTURES / "refused").rglob("*.json")):
        for number, case in enumerate(json.loads(path.read_text())["cases"]):
            yield named(path, "refused"), number, case.get("body", case.get("request"))


def named(path, kind):
    return path.relative_to(FIXTURES / kind).with_suffix("").as_posix().replace("_", "-")


def flat(request, prefix=""):
    """The request by dotted names, as a query spells it; nothing when it has lists of objects."""
    leaves = {}
    for key, value in request.items():
        if isinstance(value, dict):
            inner = flat(value, f"{prefix}{key}.")
            if inner is None:
                return None
            leaves |= inner
        elif isinstance(value, list):
            if any(isinstance(item, (dict, list)) for item in value):
                return None
            leaves[prefix + key] = ",".join(map(str, value))
        else:
            leaves[prefix + key] = str(value).lower() if isinstance(value, bool) else str(value)
    return leaves


def table(leaves, delimiter):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows([leaves.keys(), leaves.values()])
    return out.getvalue()


if __name__ == "__main__":
    main(pathlib.Path(sys.argv[1]))
