"""Checks the orchestrator's manifests against its published schemas, and against each other and the service's settings.

    python3 tests/manifests.py
"""

import os
import pathlib
import subprocess
import sys

import yaml

ROOT = pathlib.Path(__file__).resolve().parents[1]
MANIFEST = ROOT / "docker" / "kubernetes" / "blockwright.yaml"


def settings():
    """Names of the environment variables that the binary knows."""
    binary = os.environ.get("BLOCKWRIGHT_BINARY", ROOT / "target" / "debug" / "blockwright")
    text = subprocess.run([binary, "--help"], capture_output=True, text=True, check=True).stdout
    return {word.split("=")[0].strip("[]") for word in text.replace("[env: ", " ").split() if word.startswith("BLOCKWRIGHT_")}


def main():
    tool = pathlib.Path(sys.executable).with_name("kubernetes-validate")
    subprocess.run([tool, "--strict", "--quiet", MANIFEST], check=True, timeout=60)
    by_kind = {one["kind"]: one for one in yaml.safe_load_all(MANIFEST.read_text())}
    pod = by_kind["Deployment"]["spec"]["template"]
    labels = pod["metadata"]["labels"]
    selectors = [
        by_kind["Deployment"]["spec"]["selector"]["matchLabels"],
        by_kind["Service"]["spec"]["selector"],
        by_kind["PodDisruptionBudget"]["spec"]["selector"]["matchLabels"],
        by_kind["NetworkPolicy"]["spec"]["podSelector"]["matchLabels"],
        pod["spec"]["topologySpreadConstraints"][0]["labelSelector"]["matchLabels"],
    ]
    assert all(selector == labels for selector in selectors), selectors
    target = by_kind["HorizontalPodAutoscaler"]["spec"]["scaleTargetRef"]
    assert target["name"] == by_kind["Deployment"]["metadata"]["name"]
    (container,) = pod["spec"]["containers"]
    ports = {port["name"] for port in container["ports"]}
    used = {by_kind["Service"]["spec"]["ports"][0]["targetPort"]}
    used |= {port["port"] for rule in by_kind["NetworkPolicy"]["spec"]["ingress"] for port in rule["ports"]}
    used |= {container[probe]["httpGet"]["port"] for probe in ("startupProbe", "readinessProbe", "livenessProbe")}
    assert used <= ports, used - ports
    assert by_kind["NetworkPolicy"]["spec"]["egress"] == [], "nothing goes out"
    unknown = {variable["name"] for variable in container["env"]} - settings()
    assert not unknown, f"the service knows no {unknown}"
    print(f"{len(by_kind)} manifests are valid and agree with each other")


if __name__ == "__main__":
    main()
