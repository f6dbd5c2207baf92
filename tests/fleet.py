"""Three replicas behind the balancer of docker/fleet, under a steady load: one is killed, all are restarted in turn, and a
file of builds is recalculated while a replica and a worker of the distributing engine are killed.

    python3 tests/fleet.py [image]        needs docker, docker-compose and haproxy; the image is blockwright-test

No request may fail, and every build has exactly one answer. Prints what the balancer adds to a request.
"""

import json
import os
import pathlib
import signal
import subprocess
import sys
import threading
import time
import urllib.request

import distributed

ROOT = pathlib.Path(__file__).resolve().parents[1]
FLEET = ROOT / "docker" / "fleet"
PROJECT = "blockwright-fleet-test"
REPLICAS = ["blockwright-one", "blockwright-two", "blockwright-three"]
BUILD = ROOT / "fixtures" / "builds" / "harbour_launch_v8.json"
BUILDS = 30_000
RATE = int(os.environ.get("BLOCKWRIGHT_TEST_RATE", "2000"))


def run(*command, **options):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True, timeout=120, **options)
    assert done.returncode == 0, f"{command}: {done.stdout}{done.stderr}"
    return done.stdout.strip()


def compose(*arguments):
    return run("docker-compose", "-p", PROJECT, "-f", FLEET / "compose.yaml", *arguments)


def address(service):
    container = compose("ps", "-q", service)
    template = "{{range .NetworkSettings.Networks}}{{.IPAddress}}{{end}}"
    return container, run("docker", "inspect", "-f", template, container) + ":8080"


def wait_until_ready(at):
    deadline = time.monotonic() + 30
    while True:
        try:
            with urllib.request.urlopen(f"http://{at}/readyz", timeout=2):
                return
        except OSError:
            assert time.monotonic() < deadline, f"{at} is not ready"
            time.sleep(0.2)


def steady(program, at, rate, seconds):
    return subprocess.Popen([program, f"http://{at}/v1/builds/evaluate", BUILD, str(rate), str(seconds)],
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)


def report(load, at_once=False):
    """What the load saw, at its end or now."""
    if at_once:
        assert load.poll() is None, "the load was over before the test"
        load.stdin.close()
    text = load.stdout.read()
    load.wait(timeout=180)
    assert load.returncode == 0
    return json.loads(text)


def all_answered(what, found):
    print(f"{what}: {found}")
    assert set(found["outcomes"]) == {"200"}, what


def builds():
    """Lines of builds that all differ; one in a hundred is wrong, and must come back as such."""
    sheet = json.loads(BUILD.read_text())
    for number in range(BUILDS):
        sheet["id"] = f"build-{number}"
        sheet["block"]["bore"] = 4 + number * 1e-5 if number % 100 else -1
        yield json.dumps(sheet)


def expected(lines):
    """The same answers from the command line, without a server."""
    items = "".join(f'{{"id": {json.dumps(json.loads(line)["id"])}, "request": {line}}}\n' for line in lines)
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    done = subprocess.run([binary, "batch", "builds/evaluate"], input=items, capture_output=True, text=True, timeout=120)
    return [json.loads(line) for line in done.stdout.splitlines()][:-1]


def recalculated(front, victim):
    """Answers over the fleet, while a worker and a replica are killed."""
    sys.path.insert(0, str(FLEET))
    import recalculate

    with (distributed.LocalCluster(n_workers=2, threads_per_worker=2, dashboard_address=None) as cluster,
          distributed.Client(cluster) as client):
        worker = next(iter(client.run(os.getpid).values()))
        answered = recalculate.recalculate(client, f"http://{front}", builds())
        # The first answers are there: the rest is under way.
        first = next(answered)

        def kill():
            os.kill(worker, signal.SIGKILL)
            run("docker", "kill", "--signal", "KILL", victim)

        killer = threading.Thread(target=kill)
        killer.start()
        answers = [first, *answered]
        killer.join()
        return answers


def without_place(answer):
    """Line numbers count within a request, so they differ between the two ways."""
    return {key: value for key, value in answer.items() if key != "line"}


def main():
    image = sys.argv[1] if len(sys.argv) > 1 else "blockwright-test"
    run("cargo", "build", "--quiet", "--package", "tests", "--bin", "steady", cwd=ROOT)
    program = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "debug" / "steady"
    run(FLEET / "balancer-image.sh")
    # Port 0: any free one; the load goes to the balancer's own address.
    os.environ.update(BLOCKWRIGHT_IMAGE=image, BALANCER_IMAGE="balancer", BLOCKWRIGHT_PORT="0")
    try:
        compose("up", "-d")
        replicas = {name: address(name) for name in REPLICAS}
        _, front = address("balancer")
        for _, at in replicas.values():
            wait_until_ready(at)
        wait_until_ready(front)

        # One behind the other at a gentle rate, so that waiting for a core is not counted.
        direct = report(steady(program, replicas["blockwright-one"][1], 200, 3))
        through = report(steady(program, front, 200, 3))
        added = through["milliseconds"]["p50"] - direct["milliseconds"]["p50"]
        print(f"the balancer adds {added:.2f} ms to the median of {direct['milliseconds']['p50']:.2f} ms")

        load = steady(program, front, RATE, 8)
        time.sleep(3)
        victim = replicas["blockwright-two"][0]
        run("docker", "kill", "--signal", "KILL", victim)
        all_answered("one of three killed", report(load))
        run("docker", "start", victim)
        wait_until_ready(address("blockwright-two")[1])

        load = steady(program, front, RATE // 4, 100)
        for name in REPLICAS:
            time.sleep(1)
            container = replicas[name][0]
            run("docker", "stop", "--time", "30", container)
            run("docker", "start", container)
            wait_until_ready(address(name)[1])
        all_answered("all three restarted in turn", report(load, at_once=True))

        answers = recalculated(front, replicas["blockwright-three"][0])
        wanted = expected(list(builds()))
        assert len(answers) == len(wanted) == BUILDS
        assert [without_place(one) for one in answers] == [without_place(one) for one in wanted]
        print(f"{BUILDS} builds have one answer each, though a worker and a replica were killed")
        assert added < 1.0, "the balancer adds more than a millisecond"
    finally:
        compose("down", "--timeout", "5")


if __name__ == "__main__":
    main()
