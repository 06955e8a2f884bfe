"""Nothing clinical is answered beforehand: no staff form comes with anything picked that a person has to look at."""

from collections.abc import Callable
from html.parser import HTMLParser

import pytest
from django.test import Client
from django.urls import reverse

from tests.cast import Cast, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.models import Case
from whitening.screening.models import ExaminationRecord

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


class Picked(HTMLParser):
    """Names of controls that come with an answer: a tick, a radio, an option that is not the empty one."""

    def __init__(self) -> None:
        super().__init__()
        self.names: set[str] = set()
        self.select = ""
        self.first: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name = found.get("name") or ""
        if tag == "input" and "checked" in found:
            self.names.add(name)
        elif tag == "select":
            self.select = name
        # Without an empty first option a browser picks the first one by itself.
        elif tag == "option" and (self._first(found) or ("selected" in found and found["value"])):
            self.names.add(self.select)

    def _first(self, option: dict[str, str | None]) -> str:
        return self.first.setdefault(self.select, option.get("value") or "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = ""


def picked(client: Client, name: str, case: Case) -> set[str]:
    parser = Picked()
    html = client.get(reverse(name, args=[case.pk])).content.decode()
    parser.feed(html.split("<main")[1].split("</main>")[0])
    return parser.names


def talked_about(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case, sensitivity=6)
    course.examined(cast, case)
    course.planned(cast, case)
    return case


# How the questions were answered is said of the asking, not of the patient.
ASKED = {"source"}


@pytest.mark.parametrize(
    ("name", "made", "expected"),
    [
        ("examination", chairs.a_case, set()),
        ("plan", chairs.a_case, set()),
        ("assessment", talked_about, set()),
        ("consent", talked_about, set()),
        ("ask", chairs.a_case, ASKED),
    ],
)
def test_nothing_is_picked(cast: Cast, name: str, made: Callable[[Cast], Case], expected: set[str]) -> None:
    chairs.a_gel()
    assert picked(sign_in(cast.clinician), name, made(cast)) == expected


def test_the_gums_are_not_none_by_silence(cast: Cast) -> None:
    case = chairs.a_case(cast)
    client, where = sign_in(cast.clinician), reverse("examination", args=[case.pk])
    for fields in ({"everything": "on"}, {"looked_at": ["gums"]}, {"inflamed": "on"}):
        with nothing_written():
            answer = client.post(where, fields)
        assert answer.status_code == 422
        assert "Pick what you found; nothing picked would not mean “none”." in answer.content.decode()
    # Where the gums were not looked at, they stay open and nothing is asked about them.
    client.post(where, {"looked_at": ["decay"]})
    row = ExaminationRecord.objects.get()
    assert row.findings["looked_at"] == ["decay"]


@pytest.mark.parametrize(
    ("missing", "sentence"),
    [
        ("product", "Pick the gel."),
        ("arches", "Tick at least one arch."),
        ("light", "Pick the light, or that none is used."),
        ("isolation", "Pick how the gums are protected."),
    ],
)
def test_a_plan_needs_each_choice(cast: Cast, missing: str, sentence: str) -> None:
    case = chairs.a_case(cast)
    fields: dict[str, object] = {
        "based_on": "0",
        "product": chairs.a_gel().pk,
        "arches": ["upper"],
        "sessions": "1",
        "cycles_per_session": "4",
        "minutes_per_cycle": "15",
        "least_days_between": "7",
        "light": "none",
        "isolation": "resin_barrier",
        "fee": "400.00",
    }
    del fields[missing]
    client = sign_in(cast.clinician)
    with nothing_written():
        answer = client.post(reverse("plan", args=[case.pk]), fields)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_a_talk_says_who_interpreted(cast: Cast) -> None:
    case, client = talked_about(cast), sign_in(cast.clinician)
    with nothing_written():
        answer = client.post(reverse("consent_talk", args=[case.pk]), {"can_decide": "yes"})
    assert answer.status_code == 422
    assert "Say who interpreted, or that no interpreter was needed." in answer.content.decode()
