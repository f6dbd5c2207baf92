"""A mixed load on the real binary for a while: every form, good and bad input, clients that hang up. No fault of the service's
own may show, and once it has warmed up neither its memory nor its open files may grow.

    python3 tests/soak.py [seconds] [binary]
"""

import collections
import http.client
import json
import os
import pathlib
import random
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
import urllib.parse

ROOT = pathlib.Path(__file__).resolve().parents[1]
THREADS = 6
LONGEST_ANSWER = 30  # seconds, on a busy machine
# Above what the allocator's own habits scatter by; an hour's leak of 1 KB per thousand requests is more.
GROWTH_MEBIBYTES = 12
SPARE_FILES = 8


def main(seconds, binary):
    service = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True)
    try:
        port = int(service.stdout.readline().strip().rsplit(":", 1)[1])
        threading.Thread(target=collections.deque, args=(service.stdout, 0), daemon=True).start()
        soak(service.pid, port, seconds)
        service.send_signal(signal.SIGTERM)
        assert service.wait(30) == 0, service.returncode
    finally:
        service.kill()


def soak(process, port, seconds):
    files_before = open_files(process)
    began = time.monotonic()
    clients = [Client(port, seed, began + seconds) for seed in range(THREADS)]
    for client in clients:
        client.start()
    samples = []
    while any(client.is_alive() for client in clients):
        time.sleep(min(1, seconds / 60))
        samples.append((time.monotonic() - began, memory(process)))
    wrong = [fault for client in clients for fault in client.faults]
    assert not wrong, f"{len(wrong)} wrong answers, first: {wrong[0]}"
    counts = sum((client.counts for client in clients), collections.Counter())
    for kind in FORMS:
        assert counts[kind.__name__], f"no {kind.__name__} was answered"
    # The highest of each part: work comes and goes, and what matters is the level it comes back to.
    warm = max(used for at, used in samples if at <= seconds / 3)
    late = max(used for at, used in samples if at >= seconds * 2 / 3)
    assert late < warm + GROWTH_MEBIBYTES, f"{warm:.1f} MiB after the first third, {late:.1f} MiB in the last"
    # An idle connection is kept for 40 to 50 seconds, one with an unread body for eleven, or twice that.
    patience = time.monotonic() + 65
    while (files_after := open_files(process)) > files_before + SPARE_FILES and time.monotonic() < patience:
        time.sleep(1)
    assert files_after <= files_before + SPARE_FILES, f"{files_before} files open before, {files_after} after"
    total = sum(counts.values())
    print(f"{total} requests in {seconds} s, {counts['busy']} turned away; memory {warm:.1f} MiB, then {late:.1f} MiB; "
          f"files {files_before}, then {files_after}")


def memory(process):
    status = pathlib.Path(f"/proc/{process}/status").read_text()
    return int(status.split("VmRSS:")[1].split()[0]) / 1024


def open_files(process):
    return len(os.listdir(f"/proc/{process}/fd"))


EXAMPLES = {path.relative_to(ROOT / "fixtures" / "examples").with_suffix("").as_posix().replace("_", "-"): json.loads(path.read_text())
            for path in sorted((ROOT / "fixtures" / "examples").rglob("*.json"))}
# Random engines take long, five hundred of them longer than a client waits; large requests would hide a leak of the small.
EXAMPLES = {name: example for name, example in EXAMPLES.items()
            if len(json.dumps(example)) < 3_000 and not name.endswith("/tolerance")}
FLAT = {name: example for name, example in EXAMPLES.items()
        if all(not isinstance(value, (dict, list)) for value in example.values())}
REFUSED = [(fixture["path"], json.dumps(case["body"]))
           for fixture in map(json.loads, (path.read_text() for path in sorted((ROOT / "fixtures" / "refused").rglob("*.json"))))
           for case in fixture["cases"] if "body" in case]
BAD_BODIES = [b"", b"{", b"\xff", b"null", b"[" * 100_000, b'{"units":' * 50_000, b"9" * 200_000, b'{"a":"' + b"\\u0000" * 9000 + b'"}']


class Client(threading.Thread):
    """Sends one request after the other, each of a form drawn at random, and notes what should not be."""

    def __init__(self, port, seed, until):
        super().__init__(daemon=True)
        self.port, self.until, self.random = port, until, random.Random(seed)
        self.counts, self.faults, self.kept = collections.Counter(), [], None

    def run(self):
        while time.monotonic() < self.until and not self.faults:
            form = self.random.choice(FORMS)
            try:
                form(self)
                self.counts[form.__name__] += 1
            except Exception as error:  # whatever it is, it is a finding
                self.faults.append(f"{form.__name__}: {type(error).__name__}: {error}")

    def ask(self, method, path, body=None, media="application/json", wanted=(200,)):
        """The body of an answer; empty when the service was busy."""
        kept, self.kept = self.kept, None
        connection = kept or http.client.HTTPConnection("127.0.0.1", self.port, timeout=LONGEST_ANSWER)
        try:
            connection.request(method, path, body, {"Content-Type": media} if body is not None else {})
        except (BrokenPipeError, ConnectionResetError):
            pass  # refused before all of it was sent: the answer says why
        answer = connection.getresponse()
        text = answer.read()
        if answer.will_close:
            connection.close()
        else:
            self.kept = connection
        if answer.status == 503:
            self.counts["busy"] += 1
            assert answer.headers["Retry-After"], "a refusal for now says until when"
            return b""
        assert answer.status in wanted, f"{answer.status} to {method} {path}: {text[:500]}"
        return text

    def pick(self, examples):
        return self.random.choice(sorted(examples.items()))

    def hang_up(self, request):
        """Sends and goes away without reading, sometimes with a reset."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=LONGEST_ANSWER) as connection:
            if self.random.random() < 0.5:
                connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            connection.sendall(request)
            time.sleep(self.random.choice([0, 0.001, 0.02]))


def single(client):
    name, example = client.pick(EXAMPLES)
    json.loads(client.ask("POST", f"/v1/{name}", json.dumps(example)) or "{}")


def query(client):
    name, example = client.pick(FLAT)
    json.loads(client.ask("GET", f"/v1/{name}?{urllib.parse.urlencode(example)}") or "{}")


def value(client):
    example = EXAMPLES["geometry/displacement"]
    text = client.ask("GET", f"/v1/geometry/displacement/value?{urllib.parse.urlencode(example)}&field=displacement")
    assert not text or float(text) > 0, text


def batch(client):
    name, example = client.pick(EXAMPLES)
    items = [{"id": str(number), "request": example if number % 7 else {"units": "inch"}} for number in range(30)]
    text = client.ask("POST", f"/v1/{name}/batch", json.dumps({"items": items}))
    assert not text or len(json.loads(text)["items"]) == 30, text[:300]


def stream(client):
    name, example = client.pick(EXAMPLES)
    lines = client.random.choice([1, 50, 500])
    body = (json.dumps({"request": example}) + "\n").encode() * lines
    head = (f"POST /v1/{name}/stream HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/x-ndjson\r\n"
            f"Content-Length: {len(body)}\r\n\r\n")
    with socket.create_connection(("127.0.0.1", client.port), timeout=LONGEST_ANSWER) as connection:
        # It reads while it writes: the service holds no more than a few blocks of an answer that nobody takes.
        writer = threading.Thread(target=connection.sendall, args=(head.encode() + body,), daemon=True)
        writer.start()
        answer = http.client.HTTPResponse(connection)
        answer.begin()
        text = answer.read()
        writer.join(LONGEST_ANSWER)
    if answer.status == 503:
        client.counts["busy"] += 1
        return
    assert answer.status == 200, f"{answer.status}: {text[:500]}"
    assert json.loads(text.splitlines()[-1])["lines"] == lines, text[-300:]


def table(client):
    name, example = client.pick(FLAT)
    rows = client.random.choice([1, 50, 500])
    row = ",".join(f'"{value}"' for value in example.values())
    text = client.ask("POST", f"/v1/{name}/table", "\n".join([",".join(example)] + [row] * rows), "text/csv")
    assert not text or len(text.splitlines()) == rows + 1, text[:300]


def refused(client):
    path, body = client.random.choice(REFUSED)
    text = client.ask("POST", path, body, wanted=(400, 413, 422))
    assert not text or json.loads(text)["status"] in (400, 413, 422), text


def bad_body(client):
    name, _ = client.pick(EXAMPLES)
    client.ask("POST", f"/v1/{name}", client.random.choice(BAD_BODIES), wanted=(400, 413, 422))


def other_addresses(client):
    client.ask("GET", client.random.choice(["/healthz", "/readyz", "/metrics", "/openapi.json", "/docs/", "/v1/methods"]))
    client.ask("GET", f"/v1/nothing/{client.random.random()}", wanted=(404,))


def hung_up(client):
    name, example = client.pick(EXAMPLES)
    line = json.dumps({"request": example}) + "\n"
    head = f"POST /v1/{name}/stream HTTP/1.1\r\nHost: x\r\nContent-Type: application/x-ndjson\r\n"
    client.hang_up(f"{head}Content-Length: 99999999\r\n\r\n{line * 200}".encode())
    body = json.dumps({"items": [{"request": example}] * 100})
    head = f"POST /v1/{name}/batch HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
    client.hang_up(f"{head}Content-Length: {len(body)}\r\n\r\n{body}".encode())
    client.hang_up(f"{head}Content-Length: 5000\r\n\r\n{{".encode())
    client.hang_up(b"GET /healthz HT")
    client.hang_up(bytes(client.random.randrange(256) for _ in range(300)))


FORMS = [single, query, value, batch, stream, table, refused, bad_body, other_addresses, hung_up]

if __name__ == "__main__":
    duration = float(sys.argv[1]) if len(sys.argv) > 1 else 60
    main(duration, sys.argv[2] if len(sys.argv) > 2 else ROOT / "target" / "debug" / "blockwright")
