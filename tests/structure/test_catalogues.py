"""The step that notices a template of the translators which has grown old; it runs once there is a catalogue."""

from pathlib import Path

import pytest

from clinic.accounts.languages import Sentence
from scripts import catalogues
from scripts.lint import ROOT


def test_every_kind_of_place_is_read() -> None:
    there = catalogues.extracted()
    assert Sentence("Message preferences") in there  # a page, and a sentence in Python
    assert Sentence("Your appointment at %(practice)s") in there  # a mail
    assert Sentence("%(start)s to %(end)s", context="a stretch of numbers, days or times") in there
    assert any(each.plural == "%(found)s patients found" for each in there)


def test_what_the_template_lacks_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(catalogues, "extracted", lambda: {Sentence("Monday"), Sentence("Monday", context="short")})
    assert catalogues.lacking('msgid "Monday"\nmsgstr ""\n') == {Sentence("Monday", context="short")}


def test_the_installed_catalogues_find_their_folder_in_the_image() -> None:
    assert "COPY locale locale\n" in (Path(ROOT) / "Dockerfile").read_text()
