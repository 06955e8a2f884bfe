"""Times, durations, digits and names are written the same way everywhere."""

from datetime import UTC, date, datetime, time, timedelta
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from django.template import Context, Template
from django.utils import timezone, translation

from clinic.accounts.templatetags import shell
from tests.clinic.look.markup import Element, read

AT = datetime(2026, 3, 3, 14, 30, tzinfo=UTC)


def draw(template: str, *, zone: str = "UTC", **values: object) -> Element:
    frame = SimpleNamespace(zone=ZoneInfo(zone))
    return read(Template("{% load shell %}" + template).render(Context({"shell": frame, **values})))


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ("UTC", "Tue 3 Mar 2026, 14:30"),
        ("Europe/Berlin", "Tue 3 Mar 2026, 15:30"),
        ("America/Los_Angeles", "Tue 3 Mar 2026, 06:30"),
        ("Pacific/Kiritimati", "Wed 4 Mar 2026, 04:30"),
    ],
)
def test_a_moment_is_told_on_the_clock_of_the_site(zone: str, words: str) -> None:
    element = draw("{% moment at %}", zone=zone, at=AT).one("time")
    assert element.words == words
    assert element.attributes["datetime"] == "2026-03-03T14:30:00+00:00"


def test_a_moment_in_both_hours_of_the_autumn_change() -> None:
    """25 October 2026, 01:00 UTC: clocks in Berlin go back from 03:00 to 02:00."""
    first, second = datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    drawn = draw("{% clock a %}{% clock b %}", zone="Europe/Berlin", a=first, b=second)
    assert [each.words for each in drawn.all("time")] == ["02:30", "02:30"]
    assert len({each.attributes["datetime"] for each in drawn.all("time")}) == 2


def test_a_day_of_a_moment_is_the_day_at_the_site() -> None:
    late = datetime(2026, 3, 3, 23, 30, tzinfo=UTC)
    drawn = draw("{% day at %}{% day on %}", zone="Europe/Berlin", at=late, on=date(2026, 3, 3))
    assert [each.words for each in drawn.all("time")] == ["Wed 4 Mar 2026", "Tue 3 Mar 2026"]
    assert [each.attributes["datetime"] for each in drawn.all("time")] == ["2026-03-04", "2026-03-03"]


@pytest.mark.parametrize(("language", "words"), [("de", "Di 3. Mär 2026, 14:30"), ("es", "Mar 3 mar 2026, 14:30")])
def test_the_same_shape_in_other_languages(language: str, words: str) -> None:
    with translation.override(language):
        assert draw("{% moment at %}", at=AT).words.casefold() == words.casefold()


def test_the_bare_words_are_those_of_the_elements() -> None:
    tags = "{% moment_words at %}|{% day_words at %}|{% day_words on %}|{% clock_words at %}|{% clock_words opens %}"
    values: dict[str, object] = {"at": AT, "on": date(2026, 3, 3), "opens": time(8, 5)}
    drawn = draw(tags, zone="Pacific/Kiritimati", **values)
    assert drawn.words == "Wed 4 Mar 2026, 04:30|Wed 4 Mar 2026|Tue 3 Mar 2026|04:30|08:05"
    assert drawn.all("time") == []


def test_a_time_names_its_day_where_the_reader_expects_another_one() -> None:
    tags = "{% time_words evening opened %}|{% time_words night opened %}"
    opened = datetime(2026, 3, 3, 21, 0, tzinfo=UTC)
    at = {"evening": datetime(2026, 3, 3, 22, 59, tzinfo=UTC), "night": datetime(2026, 3, 3, 23, 1, tzinfo=UTC)}
    assert draw(tags, zone="Europe/Berlin", opened=opened, **at).words == "23:59|Wed 4 Mar 2026, 00:01"


def test_a_mail_has_no_page_and_is_written_in_the_zone_that_is_active() -> None:
    with timezone.override(ZoneInfo("Europe/Berlin")):
        drawn = Template("{% load shell %}{% moment_words at %}").render(Context({"at": AT}))
    assert drawn == "Tue 3 Mar 2026, 15:30"


@pytest.mark.parametrize(("language", "words"), [("en", "3 Mar 1990"), ("de", "3. mär 1990"), ("es", "3 mar 1990")])
def test_a_day_of_birth_has_no_weekday(language: str, words: str) -> None:
    with translation.override(language):
        assert draw("{% birth_day on %}", on=date(1990, 3, 3)).one("time").words.casefold() == words.casefold()


def test_the_shape_is_the_same_while_no_language_is_active() -> None:
    with translation.override(None):
        assert draw("{% moment at %} {% birth_day on %}", at=AT, on=date(1990, 3, 3)).words == (
            "Tue 3 Mar 2026, 14:30 3 Mar 1990"
        )


def test_digits_stay_western_in_arabic() -> None:
    with translation.override("ar"):
        words = draw("{% moment at %}", at=AT).words
    assert {each for each in words if each.isdigit()} <= set("0123456789")
    assert "14:30" in words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (25, "25 min"),
        (0, "0 min"),
        (59.2, "1 h"),
        (60, "1 h"),
        (75, "1 h 15 min"),
        (125, "2 h 05 min"),
        (timedelta(minutes=24, seconds=1), "25 min"),
        (timedelta(hours=47, minutes=59), "47 h 59 min"),
        (timedelta(days=4, hours=14, minutes=22), "4 days 15 h"),
        (timedelta(days=2), "2 days"),
        (timedelta(hours=2), "2 h"),
    ],
)
def test_minutes(value: float | timedelta, words: str) -> None:
    assert shell.minutes(value) == words


@pytest.mark.parametrize(("value", "words"), [(0, "00:00"), (59.9, "00:59"), (272, "04:32"), (4500, "75:00")])
def test_a_running_clock(value: float, words: str) -> None:
    assert read(shell.stopwatch(value)).one("bdi").words == words


def test_digits_are_isolated_from_the_text_about_them() -> None:
    element = read(shell.ltr("A3.5 < +44 20")).one("bdi")
    assert element.words == "A3.5 < +44 20"
    assert (element.attributes["dir"], element.attributes["class"]) == ("ltr", "digits")


def test_a_name_is_escaped_and_can_be_hidden() -> None:
    element = read(shell.person("سلمى <O’Brien>")).one("bdi", class_="person")
    assert element.words == "سلمى <O’Brien>"
    assert element.attributes["data-person"] == "س. &lt;." or element.attributes["data-person"] == "س. <."


def test_a_stretch_is_told_in_words() -> None:
    assert shell.from_to(28, 42) == "28 to 42"
