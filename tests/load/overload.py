"""Twice as much long work as the service can do, offered in an open loop: requests leave on a schedule, whatever comes back.

    python3 tests/load/overload.py [--path builds/tolerance] [--draws 40000] [--seconds 10] [--times 2] [--binary FILE] [-- SETTINGS]

First the capacity is found in a closed loop; then `--times` as much is sent. Prints the share that was turned away, how fast the
refusals and the answers came, counted from the moment of sending, and how fast small calls were answered meanwhile. A wrong
refusal (no Retry-After, not a problem document) or a lost answer ends the run with exit code 1.

The generator must not be what is measured. An answer has come when the kernel had it, by its stamp, however long the generator
then takes to be woken; it runs before the service where it may (a negative nice value), and says how late it sent and how much of
a core it used. Where it sent late by much, the load was not the one that was wanted.
"""

import argparse
import asyncio
import json
import os
import pathlib
import re
import resource
import socket
import struct
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
EVALUATE = json.loads((ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_text())
SPARE = 64  # connections that wait for their turn to send
WAIT = 60  # seconds for the last answers
SO_TIMESTAMPNS = 35  # Linux; the module has no name for it


class Connection:
    """A kept connection with at most one request under way."""

    @classmethod
    async def to(cls, port):
        self = cls()
        self.loop, self.text, self.asked, self.open = asyncio.get_running_loop(), b"", None, True
        self.socket = socket.socket()
        self.socket.setblocking(False)
        self.socket.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
        await self.loop.sock_connect(self.socket, ("127.0.0.1", port))
        self.loop.add_reader(self.socket, self.read)
        return self

    def ask(self, request, done):
        """Sends a request; `done` gets its milliseconds, status, head and body, or None when the connection broke."""
        self.asked = (time.time(), done)
        try:
            # A request is far smaller than a socket's buffer.
            assert self.socket.send(request) == len(request)
        except OSError:
            self.close()

    def read(self):
        try:
            data, notes, *_ = self.socket.recvmsg(1 << 20, 64)
        except OSError:
            return self.close()
        if not data:
            return self.close()
        # When the kernel had the answer, not when this program got round to it.
        stamps = [struct.unpack("qq", note[2]) for note in notes if note[:2] == (socket.SOL_SOCKET, SO_TIMESTAMPNS)]
        assert stamps, "the kernel does not stamp what it receives"
        self.text += data
        head, gap, body = self.text.partition(b"\r\n\r\n")
        if not gap or not self.asked or len(body) < int(re.search(rb"(?i)content-length: (\d+)", head).group(1)):
            return
        (sent, done), self.asked, self.text = self.asked, None, b""
        if b"connection: close" in head.lower():
            self.close()
        done((1000 * (stamps[-1][0] + stamps[-1][1] / 1e9 - sent), int(head[9:12]), head, body))

    def close(self):
        if self.open:
            self.open = False
            self.loop.remove_reader(self.socket)
            self.socket.close()
        if self.asked:
            (_, done), self.asked = self.asked, None
            done(None)


class Pool:
    """Connections that are open before they are needed, so that opening one is no part of an answer's time."""

    def __init__(self, port):
        self.port, self.idle, self.opened, self.none_spare = port, [], 0, 0

    async def open(self):
        self.opened += 1
        return await Connection.to(self.port)

    async def fill(self, size):
        self.idle += await asyncio.gather(*(self.open() for _ in range(size - len(self.idle))))

    async def keep_filled(self):
        while True:
            self.idle = [connection for connection in self.idle if connection.open]
            await self.fill(SPARE)
            await asyncio.sleep(0.005)

    async def take(self):
        while self.idle:
            connection = self.idle.pop(0)
            if connection.open:
                return connection
        self.none_spare += 1
        return await self.open()


def post(path, body):
    body = json.dumps(body).encode()
    head = f"POST /v1/{path} HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
    return head.encode() + body


async def answered(connection, request):
    done = asyncio.get_running_loop().create_future()
    connection.ask(request, lambda answer: done.done() or done.set_result(answer))
    return await done


async def capacity(pool, request, seconds, clients):
    """Answers per second when each client waits for its answer, and the milliseconds of one that is alone."""
    connection = await pool.open()
    alone = []
    for _ in range(20):
        time_taken, status, *rest = await answered(connection, request)
        assert status == 200, rest
        alone.append(time_taken)

    async def client():
        connection, count = await pool.open(), 0
        while time.perf_counter() < until:
            _, status, *rest = await answered(connection, request)
            assert status == 200, rest
            count += 1
        return count

    started = time.perf_counter()
    until = started + seconds
    counts = await asyncio.gather(*(client() for _ in range(clients)))
    return sum(counts) / (time.perf_counter() - started), sorted(alone)[len(alone) // 2]


async def on_schedule(pool, request, rate, seconds, late, answers):
    """Sends at a rate, whatever is answered; waits for what is still to come."""
    waiting = set()
    started = time.perf_counter()
    for number in range(int(rate * seconds)):
        due = started + number / rate
        if (pause := due - time.perf_counter()) > 0:
            await asyncio.sleep(pause)
        connection = await pool.take()
        late.append(1000 * (time.perf_counter() - due))
        task = asyncio.ensure_future(answered(connection, request))
        waiting.add(task)

        def note(task, connection=connection):
            waiting.discard(task)
            answers.append(task.result())
            if connection.open:
                pool.idle.append(connection)

        task.add_done_callback(note)
    if waiting:
        await asyncio.wait(set(waiting), timeout=WAIT)
    return len(waiting)


async def small_calls(pool, request, times, wrong):
    """A client of something short, fifty times a second."""
    connection = await pool.open()
    while True:
        answer = await answered(connection, request)
        if answer is None or answer[1] != 200:
            wrong.append(answer)
            connection = await pool.open()
        else:
            times.append(answer[0])
        await asyncio.sleep(0.02)


def of(times):
    if not times:
        return "none"
    times = sorted(times)
    p50, p99 = (times[int(share * (len(times) - 1))] for share in (0.5, 0.99))
    return f"p50 {p50:.2f} ms, p99 {p99:.2f} ms, max {times[-1]:.2f} ms of {len(times)}"


def wrong_refusal(head, body):
    fields = head.decode().lower()
    problem = json.loads(body)
    return not (re.search(r"\r\nretry-after: \d+", fields) and "\r\ncontent-type: application/problem+json" in fields
                and problem["status"] == 503 and problem["type"] == "/problems/overloaded")


async def run(port, options):
    example = json.loads((ROOT / "fixtures" / "examples" / f"{options.path.replace('-', '_')}.json").read_text())
    if "draws" in example or options.path.endswith("tolerance"):
        example["draws"] = options.draws
    request = post(options.path, example)
    pool = Pool(port)
    cores = os.cpu_count()
    most, alone = await capacity(pool, request, options.seconds / 2, 4 * cores)
    rate = options.times * most
    print(f"{options.path}: {alone:.1f} ms alone; capacity {most:.0f}/s with {4 * cores} clients; offered {rate:.0f}/s", flush=True)
    await pool.fill(SPARE)
    late, answers, wrong, health, build = [], [], [], [], []
    used = resource.getrusage(resource.RUSAGE_SELF)
    began = time.perf_counter()
    beside = [asyncio.ensure_future(work) for work in (
        pool.keep_filled(),
        small_calls(pool, b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n", health, wrong),
        small_calls(pool, post("builds/evaluate", EVALUATE), build, wrong))]
    lost = await on_schedule(pool, request, rate, options.seconds, late, answers)
    for task in beside:
        task.cancel()
    took = time.perf_counter() - began
    now = resource.getrusage(resource.RUSAGE_SELF)
    own = (now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime) / took
    broken = sum(answer is None for answer in answers)
    answers = [answer for answer in answers if answer]
    served = [answer[0] for answer in answers if answer[1] == 200]
    refused = [answer for answer in answers if answer[1] == 503]
    other = [answer[1:] for answer in answers if answer[1] not in (200, 503)]
    bad = [answer[2:] for answer in refused if wrong_refusal(*answer[2:])]
    total = len(answers) + broken + lost
    print(f"sent {total} in {options.seconds} s: {100 * len(refused) / total:.0f} % turned away, {len(served) / took:.0f}/s answered, "
          f"{lost} without answer, {broken} broken off, {len(other)} of another status, {len(bad)} wrong refusals")
    print(f"503:             {of([answer[0] for answer in refused])}")
    print(f"200:             {of(served)}")
    print(f"GET /healthz:    {of(health)}")
    print(f"builds/evaluate: {of(build)}")
    print(f"generator: late {of(late)}; {100 * own:.0f} % of a core; {pool.opened} connections opened, "
          f"{pool.none_spare} times none was spare", flush=True)
    for what in (other, bad, wrong):
        if what:
            print("wrong:", what[0])
    return not (lost or broken or other or bad or wrong)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--path", default="builds/tolerance")
    parser.add_argument("--draws", type=int, default=40_000)
    parser.add_argument("--seconds", type=float, default=10)
    parser.add_argument("--times", type=float, default=2)
    parser.add_argument("--binary", default=ROOT / "target" / "dist" / "blockwright")
    parser.add_argument("settings", nargs="*", help="settings of the service, after --")
    options = parser.parse_args()
    server = subprocess.Popen([options.binary, "--address", "127.0.0.1:0", "--log", "error", *options.settings],
                              stdout=subprocess.PIPE, text=True)
    try:
        os.nice(-10)
    except PermissionError:
        print("the generator may not run before the service: see how late it sent")
    try:
        port = int(re.search(r"127\.0\.0\.1:(\d+)", server.stdout.readline()).group(1))
        sound = asyncio.run(run(port, options))
    finally:
        server.terminate()
        server.wait()
    sys.exit(0 if sound else 1)


if __name__ == "__main__":
    main()
