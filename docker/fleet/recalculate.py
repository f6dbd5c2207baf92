"""Recalculates a file of builds over a fleet: many machines ask, many replicas answer.

    pip install distributed requests
    python recalculate.py http://balancer:8080 builds.ndjson answers.ndjson [--scheduler tcp://scheduler:8786]

Each line of the input is one build sheet with an "id" of its own. The answers come in the order of the builds, one line each:
{"type": "result", "id": ..., "result": ...} or {"type": "error", "id": ..., "problem": ...}. Without a scheduler the work
is spread over this machine's cores.

The engine runs the share of a lost worker again on another; a request that meets a lost replica is sent again. Both are safe,
because a calculation depends on its request alone; an answer is written only when its whole share has come back, so that every
build has exactly one.
"""

import argparse
import collections
import itertools
import json

import requests
from distributed import Client
from urllib3.util import Retry

SHARE = 500
"""Builds per request; the service takes up to 1,000."""


AHEAD = 64
"""Shares that are under way or wait to be written."""


def session():
    """Connections that try again: pure requests may be repeated whatever went wrong."""
    again = Retry(total=8, backoff_factor=0.2, status_forcelist=[502, 503, 504], allowed_methods=None)
    http = requests.Session()
    http.mount("http://", requests.adapters.HTTPAdapter(max_retries=again))
    http.mount("https://", requests.adapters.HTTPAdapter(max_retries=again))
    return http


def answer_share(fleet, builds):
    """The answers to some builds, in their order."""
    items = [{"id": build["id"], "request": build} for build in builds]
    with session() as http:
        response = http.post(f"{fleet}/v1/builds/evaluate/batch", json={"items": items}, timeout=60)
    response.raise_for_status()
    answers = response.json()["items"]
    if [answer["id"] for answer in answers] != [build["id"] for build in builds]:
        raise RuntimeError("the answers are not those of the builds that were asked for")
    return answers


def shares(lines):
    """The builds of a file, a share at a time."""
    builds = (json.loads(line) for line in lines if line.strip())
    while share := list(itertools.islice(builds, SHARE)):
        yield share


def recalculate(client, fleet, lines):
    """Yields the answers to all builds, in order."""
    asked = collections.deque()
    for share in shares(lines):
        asked.append(client.submit(answer_share, fleet, share, retries=5, pure=False))
        # Whatever the length of the file, only so much of it is held.
        if len(asked) == AHEAD:
            yield from asked.popleft().result()
    while asked:
        yield from asked.popleft().result()


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("fleet")
    parser.add_argument("builds")
    parser.add_argument("answers")
    parser.add_argument("--scheduler", help="an engine that runs already; otherwise this machine's cores")
    arguments = parser.parse_args()
    with (Client(arguments.scheduler) as client, open(arguments.builds, encoding="utf-8") as lines,
          open(arguments.answers, "w", encoding="utf-8") as answers):
        for answer in recalculate(client, arguments.fleet, lines):
            answers.write(json.dumps(answer, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    main()
