"""No word of a page is left out without anybody being told, and none stands under another's heading."""

from dataclasses import replace
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from clinic.documents.drawing import Studio
from clinic.documents.limits import Limits
from clinic.documents.reading import Reader, parsed
from clinic.documents.refusing import Unprintable
from tests.clinic.documents.copying import copied
from tests.clinic.documents.drawing_jobs import job, text_of

LETTERS = {chr(point) for point in range(0x20, 0x7F)}
PICTURE = "<svg aria-label='x' width='9' height='9'><g/></svg>"
ROW = "<tr><td>x</td><td>y</td></tr>"


def read(page: str) -> Any:
    return Reader(LETTERS).blocks(parsed(f"<html><body>{page}</body></html>").body)


@pytest.mark.parametrize(
    "page",
    [
        f"<table>lost{ROW}</table>",
        f"<table>{ROW}lost</table>",
        f"<table><tbody>lost{ROW}</tbody></table>",
        f"<table><tbody>{ROW}</tbody>lost</table>",
        "<table><tr>lost<td>x</td></tr></table>",
        "<table><tr><td>x</td>lost</tr></table>",
        f"<table><tbody><div>lost</div>{ROW}</tbody></table>",
        f"<table><caption>lost</caption><caption>x</caption>{ROW}</table>",
        "<ul>lost<li>x</li></ul>",
        "<ol><li>x</li>lost</ol>",
        "<p class='write'>lost</p>",
        "<p><span class='box'>lost</span></p>",
        "<p><span class='gap'>lost</span></p>",
        "<p class='boxes'>lost <span>x</span></p>",
        f"<div class='link'>{PICTURE} lost<p>x</p></div>",
        f"<div class='link'><p>x</p>{PICTURE}</div>",
        f"<div class='ladder-beside'>lost{PICTURE}</div>",
        "</body>lost",
        "</body><p>lost</p>",
    ],
)
def test_words_without_a_place_are_refused(page: str) -> None:
    with pytest.raises(Unprintable, match="incomplete"):
        read(page)


@pytest.mark.parametrize(
    "page",
    [
        f"<table>\n<caption>c</caption> <thead> <tr> <th>x</th> <th>y</th> </tr> </thead> {ROW} </table>",
        "<ul> <li>x</li> </ul>",
        "<p class='write'></p>",
        "<p class='boxes'><span>x</span> <span>y</span></p>",
        f"<div class='link'>\n{PICTURE}\n<p>x</p></div>",
    ],
)
def test_space_between_them_is_no_word(page: str) -> None:
    assert read(page)


@pytest.mark.parametrize(
    "rows", [f"<tr><td>x</td></tr>{ROW}", f"{ROW}<tr><td colspan='3'>x</td></tr>", f"<tr></tr>{ROW}"]
)
def test_a_row_is_as_long_as_the_others(rows: str) -> None:
    """Or the cells of the next row would move up into it."""
    with pytest.raises(Unprintable, match="incomplete"):
        read(f"<table>{rows}</table>")


@pytest.mark.parametrize("part", ["<tbody hidden>" + ROW + "</tbody>", "<tr hidden><td>x</td></tr>"])
def test_a_part_of_a_table_says_nothing_that_is_not_read(part: str) -> None:
    with pytest.raises(Unprintable, match="blocked"):
        read(f"<table>{part}</table>")


ENDLESS = "Wolfeschlegelsteinhausenbergerdorffoberkirchheimschottingen"
DAY = """<table class="day-list"><thead><tr><th scope="col">Time</th><th scope="col">Who</th><th scope="col">Visit</th>
<th scope="col">Room</th><th scope="col">Stands</th><th scope="col">Here</th></tr></thead><tbody><tr>
<th scope="row" class="number">09:00–09:35</th><td>{who}<br><bdi class="number quiet">+44 20 7946 0101</bdi></td>
<td>Consultation</td><td>Willow</td><td>Answers missing</td><td class="blank">09:00</td></tr></tbody></table>"""


@pytest.fixture(scope="module")
def studio() -> Studio:
    return Studio(Limits())


def drawn(studio: Studio, body: str, *, large: bool) -> bytes:
    page = job(body)
    written = page.html.replace("<html>", "<html class='large'>") if large else page.html
    return studio.draw(replace(page, html=written)).pdf


@pytest.mark.parametrize("large", [False, True])
def test_an_endless_name_is_broken_and_still_read_as_one_word(studio: Studio, large: bool) -> None:
    pdf = drawn(studio, f"<h1>{ENDLESS}</h1>" + DAY.format(who=ENDLESS), large=large)
    lines = [line.strip() for line in text_of(pdf).splitlines()]
    assert ENDLESS not in lines[lines.index("Who") if "Who" in lines else 1 :]
    assert copied(pdf).count(ENDLESS) == 2


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("who", ["Bo Andersson", f"Maximiliane-Theodora {ENDLESS}"])
def test_times_and_short_words_keep_to_one_line(studio: Studio, large: bool, who: str) -> None:
    """However long the name beside them is."""
    found = text_of(drawn(studio, "<h1>x</h1>" + DAY.format(who=who), large=large)).split()
    assert {"Consultation", "Willow"} <= set(found)
    assert "09:00–09:35" in found


def test_a_table_to_write_in_is_not_cut_where_it_fits_on_a_page() -> None:
    rows = "<tr><td></td><td></td></tr>" * 12
    table = f"<table class='by-hand together'><thead><tr><th>x</th><th>y</th></tr></thead>{rows}</table>"
    node: Any
    (node,) = Reader(LETTERS, large=True).blocks(parsed(table).body)
    assert "long" not in node["c"]


ARABIC = "\u0645\u062d\u0645\u062f"


@pytest.mark.parametrize("name", [ARABIC, f"Ali {ARABIC}", f"{ARABIC} Ali"])
@pytest.mark.parametrize("after", [", 12 March", " (12)", f" 12, <bdi>{ARABIC}</bdi>"])
def test_a_number_behind_a_name_stands_behind_it(studio: Studio, name: str, after: str) -> None:
    """On the paper, from left to right: the place of the number and of the name."""
    pdf = drawn(studio, f"<h1>x</h1><p>| <bdi>{name}</bdi>{after}</p>", large=False)
    places: dict[str, float] = {}

    def visit(text: str, matrix: list[float], text_matrix: list[float], _font: object, _size: object) -> None:
        for mark in ("12", "\u062d"):
            if mark in text and text.strip():
                places.setdefault(mark, text_matrix[4] * matrix[0] + matrix[4])

    PdfReader(BytesIO(pdf)).pages[0].extract_text(visitor_text=visit)
    assert places["\u062d"] < places["12"]


def test_a_letter_in_another_direction_begins_at_the_other_edge(studio: Studio) -> None:
    """Lines keep free what they keep free at their end, and a call has its rule where they begin."""
    places: list[float] = []

    def visit(text: str, matrix: list[float], text_matrix: list[float], _font: object, _size: object) -> None:
        if "\u062d" in text:
            places.append(text_matrix[4] * matrix[0] + matrix[4])

    words = f"{ARABIC} " * 60
    pdf = drawn(studio, f"<h1>x</h1><section class='letter' dir='rtl'><p>{words}</p></section>", large=False)
    PdfReader(BytesIO(pdf)).pages[1].extract_text(visitor_text=visit)
    assert min(places) > 62 + 60
    assert max(places) > 595 - 62 - 60
