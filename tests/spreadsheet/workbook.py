"""The workbook: read by openpyxl as it was sent, and computed again by the office after somebody typed into it."""

import json
import math
import urllib.error
import urllib.parse
import urllib.request

import openpyxl

FILTER = "Calc MS Excel 2007 XML"
NAME, VALUE, RESULT, ANSWER, MEANING = 1, 2, 6, 7, 9


def check(office, address, locale):
    """Compares every number of the workbook with the service's JSON; says how many there were."""
    source, target = office.trusted / "book.xlsx", office.trusted / "computed.xlsx"
    with urllib.request.urlopen(f"{address}/v1/workbook.xlsx") as answer:
        source.write_bytes(answer.read())
    formulas = openpyxl.load_workbook(source)
    sent = openpyxl.load_workbook(source, data_only=True)
    assert formulas["How to"]["B5"].value == address
    for sheet in formulas:
        for row in sheet.iter_rows():
            for cell in row:
                assert not isinstance(cell.value, str) or len(cell.value) < 8000, f"{sheet.title} {cell.coordinate}"
    # A reader that does not compute sees what the service gave when it made the file.
    stored = compare(sent, address)

    comma = locale == "de-DE"
    typed = [("How to", "B5", address + "/")]
    bore = place(sent, "compression/static", "bore")
    typed.append((*bore, "4,2" if comma else "4.2"))
    typed.append((*place(sent, "compression/target", "bore"), "106,68 mm" if comma else "106.68 mm"))
    typed.append((*place(sent, "geometry/displacement", "bore"), "0"))
    typed.append((*place(sent, "geometry/piston-motion", "crank_angles"), "0; 45,5; 90" if comma else "0; 45.5; 90"))
    for name in ["from", "to", "step"]:
        typed.append((*place(sent, "geometry/piston-motion", name), ""))
    file = office.trusted / "typed.txt"
    file.write_text("".join("\t".join(line) + "\n" for line in typed))
    said = office.macro("Harness.Recalculate", source.as_uri(), file.as_uri(), target.as_uri(), FILTER, seconds=120)
    computed = openpyxl.load_workbook(target, data_only=True)
    assert computed["How to"]["B7"].value == "yes", computed["How to"]["B7"].value
    sheet, cell = bore
    assert computed[sheet][cell].value == 4.2, computed[sheet][cell].value
    again = compare(computed, address)
    assert again > 0.8 * stored, f"{again} of {stored}"
    refused = blocks(computed)["geometry/displacement"]
    answer = refused["results"]["displacement"]
    assert answer["value"].startswith("#ERR bore ") and answer["meaning"] == answer["value"], answer
    return f"workbook: {stored} numbers stored, {again} computed in {said[0].split()[1]} ms"


def blocks(book):
    """What stands in the workbook, by calculation."""
    found = {}
    for sheet in book.worksheets[1:]:
        block = None
        for row in range(1, sheet.max_row + 1):
            read = lambda column: sheet.cell(row, column).value
            title = read(MEANING)
            if isinstance(title, str) and title.count("/") == 1 and " " not in title and read(RESULT) is None:
                block = found[title] = {"sheet": sheet.title, "inputs": {}, "results": {}}
            elif block is None or read(NAME) == "input":
                continue
            elif isinstance(read(NAME), str) and read(NAME).startswith(("cautions", "address")):
                block[read(NAME)] = read(VALUE)
            else:
                if read(NAME):
                    block["inputs"][read(NAME)] = {"value": read(VALUE), "cell": f"B{row}"}
                if read(RESULT):
                    block["results"][read(RESULT)] = {"value": read(ANSWER), "meaning": read(MEANING)}
    return found


def place(book, calculation, name):
    block = blocks(book)[calculation]
    return block["sheet"], block["inputs"][name]["cell"]


def compare(book, address):
    """Every answer in the workbook against the whole answer to the same inputs; counts the numbers."""
    numbers = 0
    for calculation, block in blocks(book).items():
        answer = ask(address, calculation, block["inputs"])
        for name, shown in block["results"].items():
            wanted = find(answer, name)
            where = f"{calculation} {name}: {shown['value']!r}, wanted {wanted!r}"
            if isinstance(wanted, (int, float)) and not isinstance(wanted, bool):
                assert isinstance(shown["value"], (int, float)), where
                assert math.isclose(shown["value"], wanted, rel_tol=1e-13, abs_tol=1e-300), where
                numbers += 1
            elif wanted is None:
                assert isinstance(shown["value"], str) and shown["value"].startswith("#ERR "), where
                assert shown["meaning"] == shown["value"], where
            else:
                assert str(shown["value"]).lower() == str(wanted).lower(), where
        if answer is not None:
            cautions = answer["cautions"]
            codes = " ".join(caution["code"] for caution in cautions) or "none"
            assert block["cautions"] == codes, f"{calculation}: {block['cautions']}"
            for index, caution in enumerate(cautions[:4]):
                assert block[f"cautions.{index}.detail"] == caution["detail"], calculation
    return numbers


def ask(address, calculation, inputs):
    """The service's answer to the inputs as they stand in the cells; none when it refuses them."""

    def text(value):
        if isinstance(value, str):
            return value.replace(",", ".").replace(";", ",") if set(value) <= set("0123456789.,; ") else value.replace(",", ".")
        return str(value)

    given = {}
    for name, entry in inputs.items():
        if entry["value"] not in (None, ""):
            given[name] = entry["value"] if name in ("id", "title") else text(entry["value"])
    try:
        with urllib.request.urlopen(f"{address}/v1/{calculation}?{urllib.parse.urlencode(given)}") as answer:
            return json.load(answer)
    except urllib.error.HTTPError as refusal:
        assert refusal.code == 422, refusal
        return None


def find(answer, name):
    for part in name.split("."):
        answer = answer.get(part) if isinstance(answer, dict) else None
    return answer
