"""While names are hidden, nothing else on a screen tells who somebody is: number, address, day of birth."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from tests.cast import Cast, sign_in

PHONE, MAIL, BORN = "+44 20 7946 0123", "amara@example.org", "1 Mar 1990"
HIDDEN = '<bdi data-person="•••">'
PAGES = ("patients", "book_at", "patient")


@pytest.mark.parametrize("name", PAGES)
def test_numbers_addresses_and_days_of_birth_are_hidden_with_the_names(diary: Cast, name: str) -> None:
    patient = diary.patient
    patient.phone, patient.email, patient.birth_on = PHONE.replace(" ", ""), MAIL, date(1990, 3, 1)
    patient.address = "3 Brook Lane"
    patient.save()
    path = reverse(name, args=[patient.pk] if name == "patient" else [])
    room = diary.fernbrook.resources.filter(kind="room").first()
    assert room is not None
    asked: dict[str, str | int] = (
        {"q": "nwosu", "to": room.pk, "start_at": "2026-03-04T10:00:00+0000"} if name != "patient" else {}
    )
    page = sign_in(diary.desk).get(path, asked).content.decode()
    page = re.sub(r"<input[^>]*>", "", page)
    seen = [words for words in (PHONE, MAIL, BORN, "3 Brook Lane") if words in page]
    assert seen == ([PHONE, MAIL, BORN, "3 Brook Lane"] if name == "patient" else [PHONE, BORN])
    for words in seen:
        bare = re.sub(
            re.escape(HIDDEN) + r"(<bdi class=\"digits\" dir=\"ltr\">|<time[^>]*>|<p>)?" + re.escape(words), "", page
        )
        assert words not in bare


def test_no_screen_shows_a_patient_s_number_that_stays() -> None:
    """The practice's own numbers may; a patient's goes through the filter that hides it."""
    shown = re.compile(r"\{\{[^}]*(?<!site\.)\bphone\.as_international\|ltr")
    bad = [
        str(path)
        for path in Path(settings.BASE_DIR, "templates").rglob("*.html")
        if any(not re.search(r"\bsite\.phone", found) for found in shown.findall(path.read_text()))
    ]
    assert [path for path in bad if "setup/replies" not in path] == []
