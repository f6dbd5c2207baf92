"""The table's reader of CSV beside Python's csv module: quoted cells, lines inside cells, byte order mark, line ends, semicolons."""

import csv
import io
import random
import urllib.request

import pytest

CELLS = ["plain", "with, comma", "with; semicolon", 'with "quotes"', "two\nlines", "two\r\nlines", "", " blanks ", "µ-metre", '"', 'in 4.25"',
         "ends with quote\"", "=1+1", "-0.125"]


def post(service, body, query):
    request = urllib.request.Request(f"http://{service.address}/v1/geometry/displacement/table?{query}", body, {"Content-Type": "text/csv"})
    with urllib.request.urlopen(request) as answer:
        return answer.read().decode()


def harmless(text):
    """What the service does to a text that a spreadsheet would run."""
    number = text.replace(",", ".").strip()
    try:
        float(number)
        return text
    except ValueError:
        return "'" + text if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("delimiter", [",", ";"])
@pytest.mark.parametrize("quoting", [csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
def test_cells_are_read_as_python_reads_them(service, mark, line_end, delimiter, quoting):
    choose = random.Random(3)
    rows = [[choose.choice(CELLS), "8", "4.25"] for _ in range(300)]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, lineterminator=line_end, quoting=quoting)
    writer.writerow(["id", "cylinders", "bore"])
    writer.writerows(rows)
    sent = text.getvalue()
    query = "units=inch&stroke=4.125" + ("&dec=comma" if delimiter == ";" else "")
    answer = post(service, (mark + sent).encode(), query)
    wanted = [[harmless(cell) for cell in row] for row in csv.reader(io.StringIO(sent, newline=""), delimiter=delimiter)]
    found = list(csv.reader(io.StringIO(answer, newline=""), delimiter=delimiter))
    assert [row[:3] for row in found] == wanted
    assert all(row[-1] == "" and len(row) == len(found[0]) for row in found[1:])


def test_a_quote_inside_a_plain_cell_is_a_character(service):
    sent = 'id,cylinders,bore\nan "inch" mark,8,4.25"\nlast,8,4.25\n'
    found = list(csv.reader(io.StringIO(post(service, sent.encode(), "units=inch&stroke=4.125"), newline="")))
    assert [row[:3] for row in found] == list(csv.reader(io.StringIO(sent)))
    assert found[1][-1] == found[2][-1] == ""
