"""No meaning hangs on a colour: each mark is a shape of its own with a word beside it."""

import re
from pathlib import Path

import pytest
from django.template import Context, Template
from django.template.loader import render_to_string

from clinic.accounts.marks import LEVEL_SHAPES, MARKS
from tests.clinic.look.markup import read


def draw(tag: str) -> str:
    return Template("{% load shell %}" + tag).render(Context())


@pytest.mark.parametrize("kind", MARKS)
def test_it_works(kind: str) -> None:
    mark = read(draw(f'{{% mark "{kind}" %}}')).one("span", class_="mark")
    assert mark.one("span", class_="mark-word").words == str(MARKS[kind].word)
    # The drawing itself is silent, so that nothing is read out twice.
    assert mark.one("svg").attributes["aria-hidden"] == "true"


def test_each_shape_is_a_drawing_of_its_own() -> None:
    shapes = {mark.shape for mark in MARKS.values()}
    drawings = {render_to_string("shell/_mark.svg.html", {"shape": shape}) for shape in shapes}
    assert len(shapes) == len(drawings) == 9


def test_every_shape_has_a_rule_for_its_colour() -> None:
    sheet = Path("static/css/parts.css").read_text(encoding="utf-8")
    named = set(re.findall(r"\.mark-([a-z-]+)", sheet))
    assert {mark.shape for mark in MARKS.values()} <= named


def test_a_word_of_its_own_a_detail_and_initials() -> None:
    drawn = read(draw('{% mark "cleared" word="Cleared" detail="recent cleaning" initials="AD" %}'))
    assert drawn.words == "Cleared AD recent cleaning"
    assert drawn.one("bdi", class_="mark-initials").words == "AD"


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError):
        draw('{% mark "fine" %}')


@pytest.mark.parametrize(("level", "shape"), LEVEL_SHAPES.items())
def test_a_message_carries_the_shape_of_its_level(level: str, shape: str) -> None:
    assert draw(f'{{% message_mark "{level}" %}}') == draw(f'{{% mark_shape "{shape}" %}}')
