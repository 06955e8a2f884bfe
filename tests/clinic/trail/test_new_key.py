"""The keys of the settings: made before there are settings, and refused when they are none."""

import subprocess
import sys

import pytest
from django.core.exceptions import ImproperlyConfigured

from clinic.config import env

KEY = "bmV3LWZpZWxkLWtleS1mb3ItdGhlc2UtdGVzdHMtMDE="


def test_it_works_without_any_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    command = [sys.executable, "-m", "clinic.trail.new_key"]
    keys = [subprocess.run(command, env={}, capture_output=True, text=True, check=True).stdout for _ in range(2)]
    assert keys[0] != keys[1]
    monkeypatch.setenv("CASEBOOK_FIELD_KEYS", ",".join(key.strip() for key in keys))
    assert env.keys("CASEBOOK_FIELD_KEYS") == [key.strip() for key in keys]


@pytest.mark.parametrize("bad", ["x", KEY[:-4], KEY + "AAAA", KEY.replace("b", "ñ", 1), KEY.replace("b", "!", 1)])
def test_what_is_no_key_is_refused_and_not_shown(monkeypatch: pytest.MonkeyPatch, bad: str) -> None:
    monkeypatch.setenv("CASEBOOK_FIELD_KEYS", f"{KEY},{bad}")
    with pytest.raises(ImproperlyConfigured) as refused:
        env.keys("CASEBOOK_FIELD_KEYS")
    assert str(refused.value) == ("Key 2 of CASEBOOK_FIELD_KEYS is no key. Make one: python -m clinic.trail.new_key")


def test_none_is_an_empty_list(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CASEBOOK_FIELD_KEYS")
    assert env.keys("CASEBOOK_FIELD_KEYS") == []
