"""Writing down an examination: per tooth, gums, and never more than was looked at."""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from whitening.cases.actions import close_case
from whitening.cases.models import Case, CloseReason
from whitening.screening.examination import Item, Periodontitis, Trouble
from whitening.screening.forms.examining import ITEM_OF
from whitening.screening.models import ExaminationRecord
from whitening.screening.reading import examination_of, outcome_of
from whitening.screening.teeth import Arch, arch_order, teeth

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def case(cast: Cast) -> Case:
    return chairs.a_case(cast)


@pytest.fixture
def dentist(cast: Cast) -> Client:
    return sign_in(cast.clinician)


def send(client: Client, case: Case, **fields: object) -> Answer:
    data = {"periodontitis": "none", "everything": "on"} | fields
    return client.post(
        reverse("examination", args=[case.pk]), {name: value for name, value in data.items() if value is not None}
    )


def test_it_works(cast: Cast, case: Case, dentist: Client) -> None:
    answer = send(
        dentist,
        case,
        tooth_11=["decay", "painful_crack"],
        restored_36="2026-02-20",
        inflamed="on",
        periodontitis="stable",
        cleaned_on="2026-02-10",
        note="Cold test on 11.",
    )
    assert answer["Location"] == reverse("assessment", args=[case.pk])
    row = ExaminationRecord.objects.get()
    assert (row.examined_by, row.examined_at, row.examined_on) == (cast.clinician, NOW, date(2026, 3, 3))
    assert (row.profession, row.note) == ("dentist", "Cold test on 11.")
    found = examination_of(case)
    assert found is not None
    assert found.looked_at == frozenset(Item)
    assert {one.number: (one.troubles, one.restored_on) for one in found.teeth} == {
        "11": ({Trouble.DECAY, Trouble.PAINFUL_CRACK}, None),
        "36": (frozenset(), date(2026, 2, 20)),
    }
    assert (found.gums.inflamed, found.gums.periodontitis) == (True, Periodontitis.STABLE)
    assert found.cleaned_on == date(2026, 2, 10)


@pytest.mark.parametrize("who", ["desk", "assistant", "hygienist", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case).status_code == 403


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert send(client, case).status_code == 404


def test_wrong_method(case: Case, dentist: Client) -> None:
    with nothing_written():
        assert dentist.put(reverse("examination", args=[case.pk])).status_code == 405


def test_nothing_is_ticked_beforehand(case: Case, dentist: Client) -> None:
    page = dentist.get(reverse("examination", args=[case.pk])).content.decode()
    assert " checked" not in page


def test_what_nobody_looked_at_stays_open(cast: Cast, case: Case, dentist: Client) -> None:
    course.answered(cast, case)
    send(dentist, case, everything=None, looked_at=["gums"])
    open_rules = {one.rule.code for one in outcome_of(case, today=NOW.date()).unanswered}
    assert {"CAR-01", "RES-01", "CRK-01"} <= open_rules
    assert not open_rules & {"PER-01", "PER-02"}


def test_looking_at_nothing_is_no_examination(case: Case, dentist: Client) -> None:
    with nothing_written():
        refused = send(dentist, case, everything=None, periodontitis=None)
    assert refused.status_code == 422
    assert "Tick what you looked at" in refused.content.decode()


@pytest.mark.parametrize(("field", "value", "item"), [
    *((f"tooth_{arch_order(Arch.UPPER)[place]}", [one.value], ITEM_OF[one]) for place, one in enumerate(Trouble)),
    ("restored_14", "2026-02-20", Item.RESTORATIONS),
    ("inflamed", "on", Item.GUMS),
    ("periodontitis", "active", Item.GUMS),
    ("periodontitis", "none", Item.GUMS),
    ("sore", "on", Item.SOFT_TISSUE),
    ("suspicious", "on", Item.SOFT_TISSUE),
    ("cold_sore", "on", Item.LIPS),
    ("cracked_lips", "on", Item.LIPS),
    ("grey", "on", Item.COLOUR),
    ("light", "on", Item.COLOUR),
    ("defect", "on", Item.ENAMEL),
    ("adhesive_work_soon", "on", Item.RESTORATIONS),
    ("deposits", "on", Item.DEPOSITS),
    ("milk_teeth", ["53"], Item.MILK_TEETH),
])  # fmt: skip
def test_a_finding_says_that_it_was_looked_at(
    case: Case, dentist: Client, field: str, value: object, item: Item
) -> None:
    """A finding behind an unticked box would be lost, and the gate would wait for a look that was taken."""
    gums = {"periodontitis": "none" if item is Item.GUMS else None}
    send(dentist, case, everything=None, **gums | {field: value})
    found = examination_of(case)
    assert found is not None
    assert found.looked_at == {item}


def test_decay_written_down_fires(cast: Cast, case: Case, dentist: Client) -> None:
    course.answered(cast, case)
    send(dentist, case, everything=None, tooth_11=["decay"])
    found = outcome_of(case, today=NOW.date()).finding("CAR-01")
    assert found is not None
    assert found.teeth == ("11",)


def test_a_milk_tooth_forbids_the_plan(cast: Cast, case: Case, dentist: Client) -> None:
    course.answered(cast, case)
    send(dentist, case, milk_teeth=["53"])
    assert [one.rule.code for one in outcome_of(case, today=NOW.date()).must_nots] == ["AGE-03"]


@pytest.mark.parametrize(("fields", "sentence"), [
    ({"cleaned_on": "2026-03-04"}, "This day has not come yet."),
    ({"restored_11": "2026-03-04"}, "This day has not come yet."),
    ({"cleaned_on": "31.02.2026"}, "data-focus-errors"),
    ({"tooth_11": ["sparkles"]}, "data-focus-errors"),
    ({"milk_teeth": ["11"]}, "data-focus-errors"),
    ({"note": "x" * 1001}, "1000"),
    ({"note": "\x00"}, "data-focus-errors"),
])  # fmt: skip
def test_bad_input_stays_on_the_page(case: Case, dentist: Client, fields: dict[str, object], sentence: str) -> None:
    with nothing_written():
        refused = send(dentist, case, tooth_21=["decay"], **fields)
    assert refused.status_code == 422
    page = refused.content.decode()
    assert sentence in page
    # What was typed elsewhere is still there, its tooth open.
    assert 'data-tooth-entry="21" open' in page


def test_every_tooth_has_its_button_with_number_and_name(case: Case, dentist: Client) -> None:
    """ISO 3950: quadrants 1 to 4, teeth 1 to 8 from the midline."""
    page = dentist.get(reverse("examination", args=[case.pk])).content.decode()
    grown = [number for number, one in teeth().items() if not one.milk]
    assert len(grown) == 32
    for number in grown:
        assert f'data-tooth="{number}"' in page
        assert f'aria-label="{teeth()[number].label}"' in page
    assert page.index('data-tooth="18"') < page.index('data-tooth="11"') < page.index('data-tooth="21"')
    assert page.index('data-tooth="28"') < page.index('data-tooth="48"') < page.index('data-tooth="38"')


def test_a_second_look_is_a_second_row(case: Case, dentist: Client) -> None:
    send(dentist, case, tooth_11=["decay"])
    send(dentist, case)
    assert ExaminationRecord.objects.count() == 2
    newest = examination_of(case)
    assert newest is not None
    assert newest.teeth == ()


def test_a_closed_case_is_not_examined(cast: Cast, case: Case, dentist: Client) -> None:
    close_case(case=case, reason=CloseReason.FINISHED, words="", actor=actor_of(cast.desk), now=NOW)
    with nothing_written():
        refused = send(dentist, case)
    assert refused.status_code == 409
    assert "This case is closed." in refused.content.decode()


def test_who_may_not_examine_here_is_told_so(cast: Cast, case: Case) -> None:
    cast.hygienist.may_examine_and_decide = True
    cast.hygienist.save()
    client = sign_in(cast.hygienist)
    page = client.get(reverse("examination", args=[case.pk])).content.decode()
    assert "is recorded and does not open the gate" in page
    send(client, case)
    assert outcome_of(case, today=NOW.date()).finding("LAW-03") is not None
