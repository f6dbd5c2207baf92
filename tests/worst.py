"""The requests that ask for most memory, all at once. A service that bounds what it holds answers or refuses each of them, stays
small, and goes on answering others.

    python3 tests/worst.py          against a process of its own, whose memory it reads

`tests/container.py` sends the same to a container under a kernel's limit.
"""

import asyncio
import json
import os
import pathlib
import re
import subprocess
import time

ROOT = pathlib.Path(__file__).resolve().parents[1]
BUILD = (ROOT / "fixtures" / "builds" / "harbour_launch_v8.json").read_bytes()
# A short question with a long answer: every tenth of a degree over two turns.
LONG_ANSWER = {"units": "inch", "stroke": 4, "rod_length": 6, "engine_speed": 6000, "bore": 4, "clearance_volume": 70,
               "from": 0, "to": 720, "step": 0.1}


def head(path, length, media="application/json"):
    size = f"Content-Length: {length}" if length is not None else "Transfer-Encoding: chunked"
    return f"POST {path} HTTP/1.1\r\nHost: x\r\nContent-Type: {media}\r\n{size}\r\n\r\n".encode()


async def whole(address, request):
    """Sends a whole request; gives the status and how long the answer took, reading it slowly."""
    host, port = address.split(":")
    started = time.monotonic()
    reader, writer = await asyncio.open_connection(host, int(port))
    try:
        writer.write(request)
        await writer.drain()
        first = await reader.readuntil(b"\r\n")
        took = time.monotonic() - started
        read = 0
        while read < 20_000_000 and (more := await reader.read(65536)):
            read += len(more)
            await asyncio.sleep(0.001)
            if read >= 1_000_000 and b"503" in first:
                break
            if len(more) < 65536 and b"\r\n0\r\n\r\n" in more[-16:]:
                break
            if b'"summary"' in more[-200:] or b'"status":' in more[:400]:
                break
        return int(first.split()[1]), took
    except (ConnectionError, asyncio.IncompleteReadError):
        return 0, time.monotonic() - started
    finally:
        writer.close()


async def unfinished(address, request):
    """Sends what never gets whole; holds the connection until told."""
    host, port = address.split(":")
    try:
        reader, writer = await asyncio.wait_for(asyncio.open_connection(host, int(port)), 3)
        writer.write(request)
        return writer
    except (OSError, asyncio.TimeoutError):
        return None


def post(path, body, media="application/json"):
    return head(path, len(body), media) + body


def motion(step):
    return {**LONG_ANSWER, "step": step}


async def attack(address, clients):
    """Everything at once; gives the statuses seen."""
    batch = json.dumps({"items": [{"request": motion(0.1)} for _ in range(1000)]}).encode()
    lines = b"".join(json.dumps({"request": motion(0.1)}).encode() + b"\n" for _ in range(2000))
    table = b"bore\n" + b"4\n" * 2_000_000
    fixed = "?units=inch&stroke=3&cylinders=8"
    large = b'{"units": "inch", ' + b" " * 8_000_000
    slow = [unfinished(address, b"POST /v1/builds/evaluate HTTP/1.1\r\nHost: x\r\nContent-Ty") for _ in range(clients)]
    slow += [unfinished(address, head("/v1/builds/evaluate", 262_000) + b" " * 200_000) for _ in range(clients)]
    slow += [unfinished(address, head("/v1/builds/evaluate/batch", 8_000_000) + b" " * 1_000_000) for _ in range(50)]
    held = await asyncio.gather(*slow)
    answered = await asyncio.gather(
        *(whole(address, post("/v1/geometry/piston-motion/batch", batch)) for _ in range(6)),
        *(whole(address, post("/v1/geometry/piston-motion/stream", lines, "application/x-ndjson")) for _ in range(6)),
        *(whole(address, post(f"/v1/geometry/displacement/table{fixed}", table, "text/csv")) for _ in range(4)),
        *(whole(address, post("/v1/builds/fit", large)) for _ in range(6)),
        *(whole(address, post("/v1/geometry/piston-motion", json.dumps(motion(0.1)).encode())) for _ in range(100)),
    )
    for writer in held:
        if writer is not None:
            writer.close()
    return answered


def still_answers(address):
    status, took = asyncio.run(whole(address, post("/v1/builds/evaluate", BUILD)))
    assert status == 200, status
    return took


def resident(pid, which):
    text = pathlib.Path(f"/proc/{pid}/status").read_text()
    return int(re.search(rf"{which}:\s+(\d+) kB", text).group(1)) / 1024


def main():
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    settings = ["--body-memory", "16", "--most-connections", "128"]
    process = subprocess.Popen([binary, "--address", "127.0.0.1:0", "--log", "error", *settings], stdout=subprocess.PIPE, text=True)
    try:
        address = re.search(r"127\.0\.0\.1:\d+", process.stdout.readline()).group()
        still_answers(address)
        before = resident(process.pid, "VmRSS")
        answered = asyncio.run(attack(address, 1000))
        statuses = sorted({status for status, _ in answered})
        peak = resident(process.pid, "VmHWM")
        took = still_answers(address)
        print(f"statuses {statuses}; {before:.0f} MiB before, {peak:.0f} MiB at most; then an answer in {1e3 * took:.0f} ms")
        assert set(statuses) <= {0, 200, 400, 413, 422, 503}, statuses
        # The server's own buffers take up to 200 kB a connection that sends faster than it is answered.
        assert peak - before < 16 + 128 * 0.2 + 24, "more memory than was set aside"
    finally:
        process.terminate()
        process.wait(timeout=40)


if __name__ == "__main__":
    main()
