"""Blockwright for Python: as macros of LibreOffice, or on its own. Made by: blockwright spreadsheet python

Needs nothing but Python's own library. As macros: put this file into the folder Scripts/python of your LibreOffice profile,
select a table with its header of names (a unit may follow: bore [mm]) and run table_of_selection; one call answers all rows.
On its own:

    import blockwright
    blockwright.compression_static(units="inch", bore=4.155, stroke=3.9, chamber_volume=70.5, gasket_bore=4.2,
                                   gasket_thickness=0.041, deck_clearance=0.01)["static_ratio"]
    blockwright.table("compression/static", [["bore", "stroke", ...], [4.155, 3.9, ...]], units="inch")

The service's address is ADDRESS; the environment's BLOCKWRIGHT_URL goes before it. Read the cautions in every answer: nothing
here replaces measuring the parts and a qualified machinist.
"""

import csv
import io
import json
import math
import os
import urllib.error
import urllib.parse
import urllib.request

ADDRESS = os.environ.get("BLOCKWRIGHT_URL", "http://127.0.0.1:8080")
SECONDS = 60


class Refused(Exception):
    """The service's problem document, in words."""

    def __init__(self, problem):
        self.problem = problem
        faults = [error["detail"] for error in problem.get("errors", [])]
        super().__init__(" ".join(faults) or problem.get("detail", "refused"))


def ask(calculation, inputs):
    """The whole answer to one request, by dotted names; a refusal raises Refused."""
    given = {name: text(value) for name, value in inputs.items() if value is not None}
    return json.loads(call(f"/v1/{calculation}?{urllib.parse.urlencode(given)}"))


def value(calculation, field, inputs):
    """One result as a number, or else as a text."""
    given = {name: text(entry) for name, entry in inputs.items() if entry is not None}
    return number(call(f"/v1/{calculation}/value?{urllib.parse.urlencode({**given, 'field': field})}"))


def table(calculation, rows, **constants):
    """Answers a table: a header of names, then rows; gives it back with the results in further columns, the last one `error`."""
    sent = io.StringIO()
    csv.writer(sent).writerows([[text(cell) for cell in row] for row in rows])
    query = urllib.parse.urlencode({name: text(entry) for name, entry in constants.items()})
    answer = call(f"/v1/{calculation}/table?{query}", sent.getvalue().encode(), "text/csv")
    return [[number(cell) for cell in row] for row in csv.reader(io.StringIO(answer, newline=""))]


def call(path, body=None, media=None):
    """Sends a request and gives the text of its answer."""
    headers = {"Content-Type": media} if media else {}
    try:
        with urllib.request.urlopen(urllib.request.Request(ADDRESS + path, body, headers), timeout=SECONDS) as answer:
            return answer.read().decode()
    except urllib.error.HTTPError as refusal:
        raise Refused(json.loads(refusal.read())) from None


def text(entry):
    """A value as the service reads it."""
    if isinstance(entry, bool):
        return "true" if entry else "false"
    if isinstance(entry, (list, tuple)):
        return ",".join(text(part) for part in entry)
    # A sheet knows only numbers with a point; a count must not have one.
    if isinstance(entry, float) and entry.is_integer():
        return str(int(entry))
    return str(entry)


def number(entry):
    """A text as a number, if it is one."""
    try:
        found = float(entry)
    except ValueError:
        return entry
    return found if math.isfinite(found) else entry


def self_test():
    """Tries a running service; gives "ok", or what is wrong."""
    inputs = {"units": "inch", "cylinders": 8, "bore": 4.25, "stroke": 4.125}
    # V = cylinders * pi / 4 * bore ^ 2 * stroke
    wanted = 2 * math.pi * 4.25**2 * 4.125
    near = lambda found: isinstance(found, float) and math.isclose(found, wanted, rel_tol=1e-9)
    if not near(ask("geometry/displacement", inputs)["displacement"]):
        return "an answer is wrong"
    if not near(value("geometry/displacement", "displacement", inputs)):
        return "a value is wrong"
    try:
        return f"a wrong name is not refused: {ask('geometry/displacement', {**inputs, 'bor': 1})}"
    except Refused as refusal:
        if "Did you mean bore" not in str(refusal):
            return f"a refusal says: {refusal}"
    back = table("geometry/displacement", [["bore [mm]", "stroke"], [107.95, 4.125], [-0.125, "4 in"]], units="inch", cylinders=8)
    if len(back) != 3 or not near(back[1][back[0].index("displacement [in3]")]):
        return f"a table is wrong: {back}"
    if back[1][-1] != "" or not back[2][-1].startswith("#ERR bore "):
        return f"a wrong row is not refused: {back[2]}"
    return "ok"


def fill_table(cells, calculation, **constants):
    """Writes the results of a table of a sheet beside it; says what was done."""
    rows = cells.getDataArray()
    answer = table(calculation, rows, **constants)
    given = len(rows[0])
    place = cells.getRangeAddress()
    right = place.EndColumn + len(answer[0]) - given
    target = cells.getSpreadsheet().getCellRangeByPosition(place.EndColumn + 1, place.StartRow, right, place.StartRow + len(answer) - 1)
    target.setDataArray(tuple(tuple(row[given:]) for row in answer))
    return f"{len(answer) - 1} rows, {len(answer[0]) - given} result columns"


def table_of_selection(*_):
    """Macro: answers the selected table. The sheet's name says which calculation, such as "compression static"; the unit
    system is inch unless the header has a column units."""
    document = XSCRIPTCONTEXT.getDocument()  # noqa: F821 - the office puts it there
    cells = document.getCurrentSelection()
    names = cells.getDataArray()[0]
    calculation = cells.getSpreadsheet().getName().replace(" ", "/", 1).replace(" ", "-").lower()
    constants = {} if "units" in names else {"units": "inch"}
    if calculation not in CALCULATIONS:
        raise ValueError(f"The sheet's name must be that of a calculation, such as compression static; it is {calculation}.")
    return fill_table(cells, calculation, **constants)


g_exportedScripts = (table_of_selection,)
