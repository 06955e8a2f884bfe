"""Every letter on a sheet is drawn, or the answer says which are not. Nothing is dropped in silence."""

import pytest

from clinic.documents.client import POOL
from clinic.documents.failures import RenderFailed
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
    # A reader may see a gap where letters are set apart by kerning.
    assert text_of(drawing.pdf).replace(" ", "").strip() == name.replace(" ", "")


def test_an_accent_that_stands_alone_is_drawn_on_its_letter() -> None:
    drawing = POOL.draw(job("<h1>Jose\u0301 Mu\u0308ller</h1>"))
    assert drawing.undrawn == ""


@pytest.mark.parametrize("name", ["سلمى حدّاد", "نور الدين", "مَرْحَبًا", "عبد الرؤوف", "هانئ"])
def test_arabic_is_drawn(name: str) -> None:
    drawing = POOL.draw(job(f"<h1>{name}</h1>", language="ar"))
    assert drawing.undrawn == ""
    # How a reader puts the letters back in order is the reader's own; which letters they are is not.
    assert set(text_of(drawing.pdf)) >= set(name) - {" "}


@pytest.mark.parametrize("name", ["مهسا پژوهش", "گلناز چمنی", "اُردو", "ڤيكتور"])
def test_further_letters_of_the_script_are_drawn(name: str) -> None:
    """Drawn, but not always copied: the font sets some of them from parts that several letters share."""
    assert POOL.draw(job(f"<h1>{name}</h1>", language="ar")).undrawn == ""


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


def test_a_missing_letter_in_a_style_sheet_is_refused() -> None:
    css = 'html { font-family: "Casebook Sans"; } h1::before { content: "王"; }'
    with pytest.raises(RenderFailed, match="glyphs"):
        POOL.draw(job("<h1>x</h1>", css=css))
