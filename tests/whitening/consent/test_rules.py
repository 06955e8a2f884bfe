"""When it may be signed, and what a changed plan does to a signature. Pure."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from whitening.consent.rules import (
    PlanTerms,
    SigningFacts,
    done_alike,
    first_day,
    what_changed,
    why_not_signed,
    why_not_yet,
)

TALKED_AT = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
READY = SigningFacts(
    today=date(2026, 3, 3),
    case_open=True,
    plan_in_force=True,
    talked_at=TALKED_AT,
    talked_on=date(2026, 3, 3),
    can_decide=True,
    cooling_off_days=0,
    quote_holds_until=date(2026, 6, 1),
    already_signed=False,
    withdrawn_at=None,
    words_ready=True,
)
TERMS = PlanTerms(
    product="Whitening gel A",
    strength_hp_percent=Decimal(6),
    arches=(True, True),
    teeth_left_out=(),
    sessions=2,
    cycles_per_session=4,
    minutes_per_cycle=15,
    light="none",
    isolation="resin_barrier",
    fee=Decimal(400),
    currency="GBP",
)


def test_it_works() -> None:
    assert why_not_yet(READY) is None


@pytest.mark.parametrize(("change", "sentence"), [
    ({"case_open": False}, "This case is closed."),
    ({"already_signed": True}, "This is signed already."),
    ({"plan_in_force": False}, "First the dentist looks, plans and talks it through with you."),
    ({"talked_at": None, "talked_on": None}, "First the dentist looks, plans and talks it through with you."),
    ({"withdrawn_at": TALKED_AT}, "You withdrew your consent."),
    ({"withdrawn_at": TALKED_AT + timedelta(minutes=1)}, "You withdrew your consent."),
    ({"can_decide": False}, "this cannot be signed now"),
    ({"words_ready": False}, "The words in this language have not been checked yet"),
    ({"quote_holds_until": date(2026, 3, 2)}, "The quote no longer holds."),
    ({"quote_holds_until": None}, "The quote no longer holds."),
    ({"cooling_off_days": 7, "first_day": "10 Mar 2026"}, "You can sign from 10 Mar 2026 on."),
])  # fmt: skip
def test_what_stands_in_the_way(change: dict[str, object], sentence: str) -> None:
    assert sentence in str(why_not_yet(replace(READY, **change)))  # type: ignore[arg-type]


@pytest.mark.parametrize(("days", "today", "may"), [
    (0, date(2026, 3, 3), True),
    (7, date(2026, 3, 9), False),
    (7, date(2026, 3, 10), True),
    # Over the end of a month.
    (30, date(2026, 4, 1), False),
    (30, date(2026, 4, 2), True),
])  # fmt: skip
def test_cooling_off_counts_local_days(days: int, today: date, may: bool) -> None:
    facts = replace(READY, cooling_off_days=days, today=today)
    assert (why_not_yet(facts) is None) is may
    assert (first_day(talked_on=date(2026, 3, 3), cooling_off_days=days) <= today) is may


def test_a_talk_after_the_withdrawal_opens_it_again() -> None:
    assert why_not_yet(replace(READY, withdrawn_at=TALKED_AT - timedelta(minutes=1))) is None


@pytest.mark.parametrize(("filled", "sentence"), [
    ({}, None),
    ({"drawn": False, "typed": True}, None),
    ({"name": "  "}, "Write your full name."),
    ({"declared": False}, "Tick the sentence above your signature"),
    ({"drawn": False}, "Sign in the box, or choose to sign by typing your name."),
])  # fmt: skip
def test_what_is_missing_in_the_form(filled: dict[str, object], sentence: str | None) -> None:
    fields = {"name": "Amara Nwosu", "declared": True, "drawn": True, "typed": False} | filled
    found = why_not_signed(**fields)  # type: ignore[arg-type]
    assert found is None if sentence is None else sentence in str(found)


@pytest.mark.parametrize(("change", "named"), [
    ({}, []),
    ({"product": "Whitening gel B"}, ["the gel"]),
    ({"strength_hp_percent": Decimal("5.9")}, ["the strength of the gel"]),
    ({"strength_hp_percent": Decimal("6.00")}, []),
    ({"arches": (True, False)}, ["the arches"]),
    ({"teeth_left_out": ("11",)}, ["the teeth left out"]),
    ({"sessions": 3}, ["more cycles or sessions than agreed"]),
    ({"sessions": 1}, []),
    ({"cycles_per_session": 5}, ["more cycles or sessions than agreed"]),
    ({"cycles_per_session": 3}, []),
    ({"minutes_per_cycle": 16}, ["a longer time on the teeth"]),
    ({"minutes_per_cycle": 14}, []),
    ({"light": "arch"}, ["the light"]),
    ({"isolation": "resin_free"}, ["the protection of the gums"]),
    ({"fee": Decimal("400.01")}, ["a higher fee"]),
    ({"fee": Decimal(399)}, []),
    ({"currency": "EUR"}, ["a higher fee"]),
    ({"light": "arch", "fee": Decimal(500)}, ["the light", "a higher fee"]),
])  # fmt: skip
def test_what_changed(change: dict[str, object], named: list[str]) -> None:
    changed = replace(TERMS, **change)  # type: ignore[arg-type]
    assert [str(word) for word in what_changed(signed=TERMS, now=changed)] == named


@pytest.mark.parametrize(("change", "alike"), [
    ({"sessions": 3, "cycles_per_session": 6, "fee": Decimal(500), "currency": "EUR"}, True),
    ({"product": "Whitening gel B"}, False),
    ({"strength_hp_percent": Decimal(3)}, False),
    ({"arches": (True, False)}, False),
    ({"teeth_left_out": ("11",)}, False),
    ({"minutes_per_cycle": 10}, False),
    ({"light": "arch"}, False),
    ({"isolation": "other"}, False),
])  # fmt: skip
def test_whether_the_same_is_done(change: dict[str, object], alike: bool) -> None:
    changed = replace(TERMS, **change)  # type: ignore[arg-type]
    assert (done_alike(TERMS, changed), done_alike(changed, TERMS)) == (alike, alike)


def test_the_order_of_teeth_says_nothing() -> None:
    one, other = (replace(TERMS, teeth_left_out=teeth) for teeth in (("11", "21"), ("21", "11")))
    assert done_alike(one, other)
