"""The container files name the commands that the tests run natively. No engine is needed to read them.

The image itself is not built here: docs/deploy.md says so.
"""

import json
import shlex
from pathlib import Path
from typing import Any

import yaml

from scripts import processes
from scripts.lint import ROOT


def compose() -> dict[str, Any]:
    read: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
    return read


def test_every_service_starts_again_by_itself() -> None:
    policies = {name: service["restart"] for name, service in compose()["services"].items()}
    assert policies == dict.fromkeys(policies, "always") | {"migrate": "on-failure"}


def test_the_commands_are_those_of_the_tests() -> None:
    services = compose()["services"]
    bare = Path(processes.web(bind="")[0]).parent
    native = {
        "web": processes.web(bind="0.0.0.0:8000"),
        "worker": processes.worker(),
        "beat": processes.beat(var_dir=Path("/var/lib/casebook")),
    }
    expected = {name: [words[0].removeprefix(f"{bare}/"), *words[1:]] for name, words in native.items()}
    assert {name: services[name]["command"] for name in native} == expected


def test_the_image_serves_as_the_web_service_does() -> None:
    line = next(line for line in (ROOT / "Dockerfile").read_text().splitlines() if line.startswith("CMD "))
    assert json.loads(line.removeprefix("CMD ")) == compose()["services"]["web"]["command"]


def test_the_page_on_deploying_names_them_too() -> None:
    page = (ROOT / "docs" / "deploy.md").read_text()
    assert [each for each in (processes.WEB, processes.WORKER, processes.BEAT) if f"`{each}" not in page] == []


def test_redis_keeps_what_it_was_given() -> None:
    command = shlex.join(compose()["services"]["redis"]["command"])
    assert command == processes.REDIS


def test_each_secret_is_a_file() -> None:
    read = compose()
    named = {secret for service in read["services"].values() for secret in service.get("secrets", [])}
    assert named == set(read["secrets"])
    assert all(list(each) == ["file"] for each in read["secrets"].values())


def test_the_image_runs_without_root() -> None:
    lines = (ROOT / "Dockerfile").read_text().splitlines()
    assert [line for line in lines if line.startswith("USER")] == ["USER casebook"]
    assert lines.index("USER casebook") < next(number for number, line in enumerate(lines) if line.startswith("CMD"))
