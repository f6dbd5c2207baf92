"""Writes what the binary is made of: a CycloneDX bill of materials and the list of licences with their texts' places.

    pip install 'cyclonedx-python-lib[json-validation]'
    python docker/sbom.py FOLDER          writes FOLDER/blockwright.cdx.json and FOLDER/licences.txt

Only what is linked into the binary counts: no build tools, no test libraries.
"""

import json
import pathlib
import platform
import subprocess
import sys
import tomllib

from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model import HashAlgorithm, HashType
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packageurl import PackageURL

ROOT = pathlib.Path(__file__).resolve().parents[1]


def metadata():
    target = f"{platform.machine()}-unknown-linux-gnu"
    command = ["cargo", "metadata", "--format-version", "1", "--locked", "--filter-platform", target]
    return json.loads(subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout)


def checksums():
    """SHA-256 of every package as Cargo.lock has it."""
    lock = tomllib.loads((ROOT / "Cargo.lock").read_text())
    return {(one["name"], one["version"]): one.get("checksum") for one in lock["package"]}


def linked(graph):
    """Identifiers of the packages that the service links, by what links them."""
    nodes = {node["id"]: node for node in graph["resolve"]["nodes"]}
    start = next(one["id"] for one in graph["packages"] if one["name"] == "service")
    found, waiting = {}, [start]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        normal = [dep["pkg"] for dep in nodes[name]["deps"] if any(kind["kind"] is None for kind in dep["dep_kinds"])]
        found[name] = normal
        waiting += normal
    return found


def component(package, checksum):
    hashes = [HashType(alg=HashAlgorithm.SHA_256, content=checksum)] if checksum else []
    return Component(
        type=ComponentType.LIBRARY,
        name=package["name"],
        version=package["version"],
        purl=PackageURL("cargo", name=package["name"], version=package["version"]),
        bom_ref=f"{package['name']}@{package['version']}",
        # Some packages still write the old stroke for "or".
        licenses=[LicenseFactory().make_with_expression(package["license"].replace("/", " OR "))],
        hashes=hashes,
    )


def main():
    (folder,) = map(pathlib.Path, sys.argv[1:])
    graph = metadata()
    packages = {one["id"]: one for one in graph["packages"]}
    links, sums = linked(graph), checksums()
    parts = {name: component(packages[name], sums.get((packages[name]["name"], packages[name]["version"]))) for name in links}
    bom = Bom(components=[part for part in parts.values() if part.name != "service"])
    bom.metadata.component = next(part for part in parts.values() if part.name == "service")
    for name, needed in links.items():
        bom.register_dependency(parts[name], [parts[other] for other in needed])
    text = JsonV1Dot6(bom).output_as_string(indent=1)
    faults = JsonStrictValidator(SchemaVersion.V1_6).validate_str(text)
    assert faults is None, faults
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "blockwright.cdx.json").write_text(text)
    lines = sorted(f"{packages[name]['name']} {packages[name]['version']}: {packages[name]['license']}" for name in links)
    (folder / "licences.txt").write_text("\n".join(lines) + "\n")
    print(f"{len(lines)} packages")


if __name__ == "__main__":
    main()
