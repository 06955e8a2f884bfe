"""The mailbox and the clock work in the demo; in production there is nothing of either."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests import environment, prepared

ROOT = Path(__file__).resolve().parents[3]

NOTHING_LEFT = """
import clinic.config.zones, json, sys, django
django.setup()
from apprise import Apprise
from django.apps import apps
from django.conf import settings
from django.db import connection
from django.urls import Resolver404, resolve
from clinic.trail.clock import shift

def resolves(path):
    try:
        resolve(path)
    except Resolver404:
        return False
    return True

print(json.dumps({
    "app": apps.is_installed("whitening.demo"),
    "modules": sorted(name for name in sys.modules if name.startswith("whitening.demo")),
    "pages": [path for path in ("/demo/mailbox/", "/demo/clock/", "/demo/look/") if resolves(path)],
    "backend": settings.EMAIL_BACKEND,
    "texts": settings.SMS_URL,
    "gateway": Apprise().add("demosms://447700900123"),
    "clock": settings.CLOCK_SHIFT,
    "shift": shift().total_seconds(),
    "tables": [model._meta.db_table for model in apps.get_models() if "demo" in model._meta.label_lower],
}))
"""


def run(env: dict[str, str], *words: str) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, *words]
    return subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT, env=env)


def answer_of(env: dict[str, str], *words: str) -> dict[str, Any]:
    done = run(env, *words)
    assert done.returncode == 0, done.stdout + done.stderr
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def env_in(folder: Path, *, demo: bool) -> dict[str, str]:
    return environment.values(var_dir=folder, database_url=environment.sqlite_url(folder), demo=demo)


def test_production_has_nothing_of_the_demo(tmp_path: Path) -> None:
    assert answer_of(env_in(tmp_path, demo=False), "-c", NOTHING_LEFT) == {
        "app": False,
        "modules": [],
        "pages": [],
        "backend": "clinic.messages.channels.smtp.StagedEmailBackend",
        "texts": "",
        "gateway": False,
        "clock": "",
        "shift": 0.0,
        "tables": [],
    }


def test_production_refuses_the_demos_mailbox(tmp_path: Path) -> None:
    env = env_in(tmp_path, demo=False) | {"CASEBOOK_EMAIL_URL": "demomail://"}
    done = run(env, "-c", "import django; django.setup()")
    assert done.returncode == 1
    assert "CASEBOOK_EMAIL_URL is demomail://, which only the demo may use." in done.stderr


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    folder = tmp_path_factory.mktemp("demo")
    prepared.database(None, into=folder, name="demo", demo=True)
    env = env_in(folder, demo=True)
    return answer_of(env, "-m", "tests.whitening.demo.living")


def test_it_works(seen: dict[str, Any]) -> None:
    assert (seen["empty"], seen["page"], seen["list"]) == (200, 200, [200, 404])


def test_wrong_role(seen: dict[str, Any]) -> None:
    assert seen["refused"] == [302, 422]


def test_two_days_bring_the_first_message(seen: dict[str, Any]) -> None:
    assert seen["days"] == {"status": 303, "hours": 48, "states": ["handed_over", "planned"], "real": 0}
    assert seen["mail"] == {"to": "amara@example.org", "id": True}


def test_a_month_brings_the_second_in_its_time(seen: dict[str, Any]) -> None:
    # Two days of grace lie behind it by then: it went out on the way and not at the end.
    assert seen["month"] == {"status": 303, "hours": 720, "states": ["handed_over", "handed_over"], "real": 0}
    assert seen["text"] == {"to": "+447700900123", "body": "Fernbrook: Tuesday 3 March."}


def test_the_links_in_the_mailbox_work(seen: dict[str, Any]) -> None:
    assert seen["link"] == 200


def test_the_trail_notes_the_shift(seen: dict[str, Any]) -> None:
    assert (seen["moves"], seen["noted"], seen["clock"]) == (2, 768, 32.0)
