"""The container files and the units name the commands that the tests run natively, and who knows which password.

No engine is needed to read them. The image itself is not built here: docs/deploy.md says so.
"""

import json
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import yaml

from scripts import processes
from scripts.lint import ROOT

UNITS = ROOT / "docs" / "systemd"
# The processes that are there all day. Whoever takes one over must not become the owner of the tables.
ALL_DAY = ("web", "worker", "beat")
OWNER = re.compile(r"owner", re.IGNORECASE)


def compose() -> dict[str, Any]:
    read: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
    return read


def unit(name: str) -> list[str]:
    """The lines of a unit: a name may come several times, which a parser for such files would refuse."""
    return (UNITS / name).read_text().splitlines()


def test_every_service_starts_again_by_itself() -> None:
    services = compose()["services"]
    policies = {name: service["restart"] for name, service in services.items() if "profiles" not in service}
    assert policies == dict.fromkeys(policies, "always") | {"migrate": "on-failure"}
    assert {name for name, service in services.items() if "profiles" in service} == {"backup", "check"}


def test_what_runs_all_day_never_learns_the_password_of_the_owner() -> None:
    services = compose()["services"]
    told = {name: service["env_file"] for name, service in services.items() if "env_file" in service}
    owner = [name for name, files in told.items() if any(OWNER.search(file) for file in files)]
    assert owner == ["migrate", "check"]
    assert [told[name] for name in ALL_DAY] == [["secrets/casebook.env"]] * len(ALL_DAY)
    # The superuser's and both roles' passwords are for the server that makes them.
    assert [name for name, files in told.items() if "secrets/database.env" in files] == ["database"]
    assert [name for name in (*ALL_DAY, "backup") if OWNER.search(json.dumps(services[name]))] == []


def test_the_owner_comes_first_and_gives_the_app_its_rights() -> None:
    services = compose()["services"]
    words = services["migrate"]["command"][-1].split(" && ")
    assert [word.split()[2:4] for word in words] == [
        ["migrate", "--noinput"],
        ["createcachetable"],
        ["grant_app_role", "casebook_app"],
    ]
    done = {"migrate": {"condition": "service_completed_successfully"}}
    assert [services[name]["depends_on"] for name in ALL_DAY] == [done] * len(ALL_DAY)


def test_both_files_of_addresses_name_the_roles_that_are_made() -> None:
    page = (ROOT / "docs" / "deploy.md").read_text()
    made = re.findall(r"^CREATE ROLE (\w+)", (ROOT / "docs" / "database-roles.sql").read_text(), re.MULTILINE)
    assert made == ["casebook_owner", "casebook_app"]
    assert set(re.findall(r"postgres://(\w+):", page)) == set(made)


def test_nobody_is_kept_from_signing_in_while_redis_is_away() -> None:
    services = compose()["services"]
    assert {services[name]["environment"]["CASEBOOK_CACHE_URL"] for name in ALL_DAY} == {"dbcache://casebook_cache"}


def test_only_the_proxy_can_be_reached() -> None:
    services = compose()["services"]
    assert [name for name, service in services.items() if "ports" in service] == ["proxy"]
    assert [name for name, service in services.items() if service["networks"] == ["inside"]] == [
        "beat",
        "database",
        "redis",
    ]
    assert compose()["networks"]["inside"] == {"internal": True}


def test_only_volumes_are_written_to() -> None:
    services = compose()["services"]
    assert [name for name, service in services.items() if service.get("read_only") is not True] == []


def test_files_keys_and_heads_lie_apart() -> None:
    image = (ROOT / "Dockerfile").read_text()
    kept = dict(re.findall(r"CASEBOOK_(\w+)_DIR=(/srv\S+)", image))
    assert kept == {
        "FILES": "/srv/casebook/files",
        "KEYS": "/srv/casebook/keys",
        "TRAIL_ANCHOR": "/srv/casebook/anchors",
        "BACKUP": "/srv/casebook/backups",
    }
    services = compose()["services"]
    # An empty volume takes its owner from the folder of the image.
    assert [folder for folder in kept.values() if image.count(folder) < 2] == []
    for name in ("web", "worker", "migrate"):
        mounts = dict(reversed(mount.split(":")) for mount in services[name]["volumes"])
        assert [mounts[kept[part]] for part in ("FILES", "KEYS", "TRAIL_ANCHOR")] == ["files", "keys", "anchors"]


def test_every_service_that_stays_says_whether_it_is_well() -> None:
    services = compose()["services"]
    stays = [name for name, service in services.items() if service["restart"] == "always"]
    assert [name for name in stays if "healthcheck" not in services[name]] == []


@pytest.mark.parametrize("name", ALL_DAY)
def test_the_units_run_the_same_commands_for_ever(name: str) -> None:
    lines = unit(f"casebook-{name}.service")
    started = next(line for line in lines if line.startswith("ExecStart=")).removeprefix(
        "ExecStart=/opt/casebook/.venv/bin/"
    )
    native = {
        "web": processes.web(bind="127.0.0.1:8000"),
        "worker": processes.worker(),
        "beat": processes.beat(var_dir=Path("/var/lib/casebook")),
    }[name]
    bare = Path(processes.web(bind="")[0]).parent
    expected = shlex.join(native).removeprefix(f"{bare}/").replace("--pidfile ''", "--pidfile=")
    assert started == expected
    # Without the last one, systemd gives up after five falls in ten seconds.
    for line in ("User=casebook", "Restart=always", "StartLimitIntervalSec=0"):
        assert line in lines


def test_only_the_weekly_check_is_told_the_password_of_the_owner() -> None:
    owner = "EnvironmentFile=/etc/casebook/owner.env"
    assert [path.name for path in sorted(UNITS.glob("*.service")) if owner in unit(path.name)] == [
        "casebook-check.service"
    ]
    timed = {path.stem for path in UNITS.glob("*.timer")}
    assert timed == {"casebook-backup", "casebook-check"}


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


def test_the_image_runs_without_root() -> None:
    lines = (ROOT / "Dockerfile").read_text().splitlines()
    assert [line for line in lines if line.startswith("USER")] == ["USER casebook"]
    assert lines.index("USER casebook") < next(number for number, line in enumerate(lines) if line.startswith("CMD"))
