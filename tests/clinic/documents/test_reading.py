"""From a page to data and from data to a file: every word arrives, as a word, in its place."""

import json
import re
from dataclasses import replace
from datetime import datetime
from html import escape
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pikepdf import Name
from pypdf import PdfReader

from clinic.documents.drawing import Studio, _program, _sheet
from clinic.documents.finishing import finish
from clinic.documents.limits import Limits
from clinic.documents.reading import Reader, parsed
from clinic.documents.refusing import Unprintable
from tests.clinic.documents.copying import copied
from tests.clinic.documents.drawing_jobs import job

LETTERS = {chr(point) for point in range(0x20, 0x7F)} | set("äöüß’“”–…é\u00a0")
# Whatever means something in the layout's own language, in JSON, in HTML or in a PDF.
AWKWARD = st.sampled_from(
    [
        *'#$*_[]{}<>&`@~=()%"\\',
        "//",
        "/*",
        "- ",
        "\\u{41}",
        '#read("/sheet.typ")',
        '")) #panic("x")',
        '\\"',
        "endobj",
        "/ID[",
        "&amp;",
        "</p>",
        "\\n",
    ]
)
TEXTS = st.lists(AWKWARD | st.text(alphabet=sorted(LETTERS), max_size=6), max_size=12).map("".join)


@pytest.fixture(scope="module")
def studio() -> Studio:
    return Studio(Limits())


def read(body: str) -> Any:
    return Reader(LETTERS).blocks(parsed(f"<html><body>{body}</body></html>").body)


@settings(max_examples=150, deadline=None)
@given(words=TEXTS, title=TEXTS, head=TEXTS)
def test_text_is_never_more_than_text(studio: Studio, words: str, title: str, head: str) -> None:
    around = f'data-practice="{escape(head)}" data-foot="" data-page-before="" data-page-between="" data-page-after=""'
    drawn = studio.draw(job(f"<h1>x</h1><p>|{escape(words)}|</p>", title=title or "x", around=around))
    found = copied(drawn.pdf)
    assert re.sub(r"[ \n]", "", f"x|{words}|") in re.sub(r"[ \n]", "", found)
    assert re.sub(" ", "", head) in re.sub(" ", "", found)
    with pikepdf.open(BytesIO(drawn.pdf)) as file:
        assert str(file.docinfo.Title).strip() == (title or "x").strip()


@given(st.text(max_size=200))
def test_the_literal_holds_the_data_and_nothing_else(text: str) -> None:
    program = _program({"text": text}).decode("ascii")
    literal = program.removeprefix('#import "/sheet.typ": sheet\n#sheet(json(bytes(').removesuffix(")))\n")
    assert re.fullmatch(r'"(?:[^"\\\n]|\\["\\])*"', literal)
    assert json.loads(json.loads(literal)) == {"text": text}


@pytest.mark.parametrize(
    ("body", "kids"),
    [
        ("<p>  a \n b </p>", ["a b "]),
        ("<p>a<strong> b </strong> c</p>", ["a", "strong", "c"]),
        ("<p><strong>a</strong> <em>b</em></p>", ["strong", " ", "em"]),
        ("<p>a<br> b</p>", ["a", "br", "b"]),
        ("<p><span class='box'></span> a</p>", ["span", " a"]),
        ("<p>a\u00a0\u00a0b</p>", ["a\u00a0\u00a0b"]),
    ],
)
def test_spaces_are_those_of_a_web_page(body: str, kids: list[str]) -> None:
    (paragraph,) = read(body)
    assert [kid if isinstance(kid, str) else kid["t"] for kid in paragraph["k"]] == kids


def test_loose_words_are_not_lost() -> None:
    read_ones = read("one<p>two</p>three <strong>four</strong><div>five</div>six")
    assert [node["t"] for node in read_ones] == ["bare", "p", "bare", "div", "bare"]


@pytest.mark.parametrize("page", ["<main>x</main>y", "y<main>x</main>", "<main>x</main><p>y</p>"])
def test_words_beside_the_sheet_are_refused(studio: Studio, page: str) -> None:
    with pytest.raises(Unprintable, match="incomplete"):
        studio.draw(job(page))


def test_a_name_turns_no_other_words_round() -> None:
    paragraph: Any
    (paragraph,) = Reader(LETTERS | {"\u202e"}).blocks(parsed("<p>Mia \u202eWong</p>").body)
    assert paragraph["k"] == ["Mia Wong"]


@st.composite
def tables(draw: st.DrawFn) -> tuple[str, list[bool], int]:
    columns = draw(st.integers(1, 4))
    heads = draw(st.lists(st.lists(st.booleans(), min_size=columns, max_size=columns), min_size=1, max_size=5))
    with_head = draw(st.booleans())
    rows = "".join("<tr>" + "".join(_cell(is_head) for is_head in row) + "</tr>" for row in heads)
    top = "<thead><tr>" + "<th scope='col'>c</th>" * columns + "</tr></thead>" if with_head else ""
    return f"<table>{top}<tbody>{rows}</tbody></table>", [one for row in heads for one in row], columns * with_head


def _cell(is_head: bool) -> str:
    return "<th scope='row'>head</th>" if is_head else "<td>fact</td>"


@settings(max_examples=40, deadline=None)
@given(st.lists(tables(), min_size=1, max_size=3))
def test_every_row_head_is_a_header_cell_and_nothing_else_is(
    studio: Studio, made: list[tuple[str, list[bool], int]]
) -> None:
    drawn = studio.draw(job("<h1>x</h1>" + "".join(f"<p>y</p>{body}" for body, _heads, _top in made)))
    with pikepdf.open(BytesIO(drawn.pdf)) as file:
        cells = [one for one in elements(file.Root.StructTreeRoot) if one.S in {Name.TH, Name.TD}]
        found = [(one.S == Name.TH, scope(one)) for one in cells]
    expected = []
    for _body, heads, top in made:
        expected += [(True, "/Column")] * top + [(head, "/Row" if head else "") for head in heads]
    assert found == expected


def elements(node: Any) -> list[Any]:
    kids = node.get("/K", [])
    below = [
        kid for kid in (kids if isinstance(kids, pikepdf.Array) else [kids]) if isinstance(kid, pikepdf.Dictionary)
    ]
    return [one for kid in below if "/S" in kid for one in (kid, *elements(kid))]


def scope(cell: Any) -> str:
    found = [str(one.Scope) for one in cell.get("/A", []) if "/Scope" in one]
    return found[0] if found else ""


def test_a_file_that_is_written_in_another_way_is_refused(studio: Studio) -> None:
    pdf = unfinished(studio, "<h1>x</h1><table><tr><th scope='row'>a</th><td>b</td></tr></table>")
    assert finish(pdf, row_heads=[True, False], identifier="0" * 32).pages == 1
    for heads, changed in (
        ([True], pdf),
        ([True, False, False], pdf),
        ([True, False], pdf.replace(b"/Headers[", b"/Header [")),
        ([True, False], pdf.replace(b"/ViewerPreferences", b"/ViewerPreference")),
        ([True, False], pdf.replace(b"/Count", b"/count")),
    ):
        with pytest.raises(Unprintable, match="incomplete"):
            finish(changed, row_heads=heads, identifier="0" * 32)


def test_every_address_in_the_file_still_leads_to_its_object(studio: Studio) -> None:
    drawn = studio.draw(job("<h1>x</h1><table><tr><th scope='row'>a</th><td>b</td></tr></table>", identifier="a" * 32))
    start = int(drawn.pdf.rsplit(b"startxref\n", 1)[1].split(b"\n")[0])
    lines = drawn.pdf[start:].split(b"\n")
    assert lines[0] == b"xref"
    places = [int(line[:10]) for line in lines[3:] if line.endswith(b" n\r")]
    assert len(places) > 10
    for number, place in enumerate(places, start=1):
        assert drawn.pdf[place:].startswith(b"%d 0 obj" % number)
    with pikepdf.open(BytesIO(drawn.pdf)) as file:
        assert file.check_pdf_syntax() == []
        assert [bytes(part) for part in file.trailer.ID] == [b"a" * 32] * 2


def unfinished(studio: Studio, body: str) -> bytes:
    page = job(body)
    program = _program(_sheet(page, parsed(page.html), Reader(studio.drawable)))
    return studio._set(program, datetime.fromisoformat(page.made_at))


@settings(max_examples=25, deadline=None)
@given(
    lengths=st.lists(st.integers(1, 400), min_size=1, max_size=40),
    large=st.booleans(),
    kind=st.sampled_from(["<p>{}</p>", "<ul><li>{}</li></ul>", "<h2>{}</h2>"]),
)
def test_what_is_kept_together_fits_on_a_page(studio: Studio, lengths: list[int], large: bool, kind: str) -> None:
    """The guess is from above: what is not cut takes one page at the most, set in the widest common letters."""
    inside = "".join(kind.format("wwwwwwww " * (length // 9) + "w") for length in lengths)
    page = job(f"<div class='element'>{inside}</div>")
    written = page.html.replace("<html>", "<html class='large'>") if large else page.html
    node: Any
    (node,) = Reader(studio.drawable, large=large).blocks(parsed(written).body)
    drawn = studio.draw(replace(page, html=written, paper="us-letter"))
    assert "long" in node["c"] or drawn.pages == 1


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("lines", range(8, 30, 2))
def test_a_signature_stands_under_what_it_signs(studio: Studio, lines: int, *, large: bool) -> None:
    line = "<path d='M 0 296 L 1000 296' fill='none' stroke='#000000'/>"
    drawing = f"<svg aria-label='Signature' viewBox='0 0 1000 300' width='90mm' height='27mm'>{line}</svg>"
    signed = f"<section class='together'><h2>Signature</h2><p>I agree.</p>{drawing}<p>Amara Nwosu</p></section>"
    page = job("<h1>x</h1>" + "<p>filling</p>" * lines + signed)
    written = page.html.replace("<html>", "<html class='large'>") if large else page.html
    pages = PdfReader(BytesIO(studio.draw(replace(page, html=written)).pdf)).pages
    holding = [number for number, one in enumerate(pages) if "I agree." in one.extract_text()]
    assert holding == [number for number, one in enumerate(pages) if "Amara Nwosu" in one.extract_text()]


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("ending", ["<p>Last words.</p>", "<ul><li>One.</li><li>Last words.</li></ul>"])
@pytest.mark.parametrize("inside", ["{}", "<div class='tight'>{}</div>"])
@pytest.mark.parametrize("lines", range(8, 44, 2))
def test_the_cautions_never_stand_alone_on_a_page(
    studio: Studio, lines: int, inside: str, ending: str, *, large: bool
) -> None:
    """A last page without a word of the sheet itself looks like a mistake: one may be thrown away unread."""
    cautions = "<section class='cautions'><h2>Please note</h2><p>Ask.</p></section><p class='quiet genuine'>A code.</p>"
    page = job(inside.format("<h1>x</h1>" + "<p>filling</p>" * lines + ending) + cautions)
    written = page.html.replace("<html>", "<html class='large'>") if large else page.html
    pages = PdfReader(BytesIO(studio.draw(replace(page, html=written)).pdf)).pages
    last = pages[-1].extract_text()
    assert [said in last for said in ("Last words.", "Please note", "Ask.", "A code.")] == [True] * 4


def test_in_large_print_what_follows_the_ladder_fills_the_page_before_it(studio: Studio) -> None:
    """The ladder takes half a page: where it goes to the next one, no page ends half empty and none is added."""
    drawing = "<svg role='img' aria-label='A ladder' viewBox='0 0 100 160' width='100' height='160'><g/></svg>"
    readings = "<table><tr><th scope='row'>1</th><td>A3</td></tr></table>"
    ladder = f"<div class='ladder-beside'>{drawing}{readings}</div>"
    page = job("<h1>x</h1>" + "<p>filling</p>" * 9 + ladder + "<h2>How it was read</h2><p>By eye.</p>" * 4)
    written = page.html.replace("<html>", "<html class='large'>")
    pdf = studio.draw(replace(page, html=written)).pdf
    texts = [one.extract_text() for one in PdfReader(BytesIO(pdf)).pages]
    assert [text.count("By eye.") > 0 for text in texts] == [True, True]
    with pikepdf.open(BytesIO(pdf)) as file:
        assert [str(one.get("/Alt")) for one in file.objects if is_figure(one)] == ["A ladder"]


def is_figure(one: Any) -> bool:
    return isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/Figure"


@pytest.mark.parametrize("size", ["1e3", "-4", "", "100%", "99999"])
def test_a_picture_has_a_size(studio: Studio, size: str) -> None:
    with pytest.raises(Unprintable, match="incomplete"):
        studio.draw(job(f"<p><svg aria-label='x' width='{size}' height='9'><g/></svg></p>"))
