"""Every letter on a sheet is drawn, or the answer says which are not. Nothing is dropped in silence."""

import pytest

from clinic.documents.client import POOL
from tests.clinic.documents.copying import copied
from tests.clinic.documents.drawing_jobs import job, text_of


@pytest.mark.parametrize(
    "name",
    [
        "Søren Óskarsson",
        "Tomasz Zieliński",
        "Nguyễn Thị Hương",
        "Ştefan Țurcanu",
        "Grace O’Neill",
        "Ελένη Παπαδοπούλου",
        "Дарья Щербакова",
        "Þórdís Ægisdóttir",
        "José Ñandú",
    ],
)
def test_names_are_drawn_and_can_be_copied(name: str) -> None:
    drawing = POOL.draw(job(f"<h1>{name}</h1>"))
    assert drawing.undrawn == ""
    assert copied(drawing.pdf) == name


def test_an_accent_that_stands_alone_is_drawn_on_its_letter() -> None:
    drawing = POOL.draw(job("<h1>Jose\u0301 Mu\u0308ller</h1>"))
    assert drawing.undrawn == ""


# Letters of Persian, Urdu and others, which the font sets from parts that several letters share.
FURTHER = ["مهسا پژوهش", "گلناز چمنی", "اُردو", "ڤيكتور"]


@pytest.mark.parametrize("name", ["سلمى حدّاد", "نور الدين", "مَرْحَبًا", "عبد الرؤوف", "هانئ", *FURTHER])
def test_arabic_is_drawn(name: str) -> None:
    drawing = POOL.draw(job(f"<h1>{name}</h1>", language="ar"))
    assert drawing.undrawn == ""
    # In which order they are drawn is another matter; which letters they are is not.
    assert sorted(copied(drawing.pdf)) == sorted(name)


@pytest.mark.parametrize(
    ("text", "undrawn"),
    [
        ("王小明", "小明王"),
        ("Mia 😀", "😀"),
        ("Thumbs 👍🏽 up", "🏽👍"),
        ("ทดสอบ", "ดทบสอ"),
        ("Heart ❤️", "❤"),
    ],
)
def test_what_cannot_be_drawn_is_marked_and_told(text: str, undrawn: str) -> None:
    drawing = POOL.draw(job(f"<h1>{text}</h1>"))
    assert drawing.undrawn == undrawn
    assert text_of(drawing.pdf).count("\N{REPLACEMENT CHARACTER}") == len(undrawn)


def test_invisible_marks_leave_no_trace() -> None:
    drawing = POOL.draw(job("<h1>A\u2060B\ufe0fC\u00adD\x07E</h1>"))
    assert drawing.undrawn == ""
    assert "\N{REPLACEMENT CHARACTER}" not in text_of(drawing.pdf)
