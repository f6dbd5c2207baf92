"""Starts the service for the comparisons with general-purpose libraries."""

import json
import os
import pathlib
import re
import subprocess
import urllib.error
import urllib.request

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[2]


class Service:
    """A running service, known by HTTP only."""

    def __init__(self, address):
        self.address = address

    def get(self, path):
        with urllib.request.urlopen(f"http://{self.address}{path}") as response:
            return response.read().decode()

    def post(self, path, request):
        """The answer to a request; a refusal is an error that shows the problem."""
        body = json.dumps(request).encode()
        headers = {"Content-Type": "application/json"}
        try:
            with urllib.request.urlopen(urllib.request.Request(f"http://{self.address}{path}", body, headers)) as response:
                return json.load(response)
        except urllib.error.HTTPError as refusal:
            raise AssertionError(f"{request} was refused: {refusal.read().decode()}") from None


@pytest.fixture(scope="session")
def service():
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    process = subprocess.Popen(
        [binary, "--address", "127.0.0.1:0", "--log", "error"], stdout=subprocess.PIPE, text=True
    )
    address = re.search(r"127\.0\.0\.1:\d+", process.stdout.readline()).group()
    yield Service(address)
    process.terminate()
    process.wait(timeout=30)
