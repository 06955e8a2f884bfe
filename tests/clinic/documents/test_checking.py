"""The structural checker finds what is wrong, and finds nothing wrong with our own sheets."""

from collections.abc import Callable
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject, TextStringObject

from clinic.documents.checking import faults
from clinic.documents.client import POOL
from tests.clinic.documents.drawing_jobs import job, svg
from tests.pdf import findings, others

Change = Callable[[PdfWriter], None]
RICH = f"""
<main><h1>Advice</h1><p>Words with <strong>weight</strong> and a <a href="https://example.org/">link</a>.</p>
<h2>At home</h2><ul><li>One</li><li>Two<ul><li>Inner</li></ul></li></ul><ol><li>First</li></ol>
<table><caption>Doses</caption><thead><tr><th scope="col">Day</th><th scope="col">What</th></tr></thead>
<tbody>{"<tr><th scope='row'>1</th><td>Rinse</td></tr>" * 60}</tbody></table>
<h2>Then</h2><h3>Later</h3><img alt="A square" src='{svg("<rect width='9' height='9'/>")}'>
<p><svg aria-label="A line" width="9" height="9"><path d="M 0 0 L 9 9" stroke="black"/></svg></p></main>
"""
AROUND = 'data-practice="Fernbrook" data-patient="Amara Nwosu" data-foot="A sheet" data-page-before="Page "'


def points(pdf: bytes) -> list[str]:
    return sorted({fault.point for fault in faults(pdf)})


@pytest.fixture(scope="module")
def good() -> bytes:
    return POOL.draw(job(RICH, around=AROUND)).pdf


def changed(pdf: bytes, change: Change) -> bytes:
    writer = PdfWriter(clone_from=BytesIO(pdf))
    change(writer)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def test_a_rich_sheet_has_no_fault(good: bytes) -> None:
    assert len(PdfReader(BytesIO(good)).pages) > 1
    assert faults(good) == []


def test_one_in_arabic_has_no_fault_either() -> None:
    """Its file is written anew after it was set, because of letters that are drawn from two parts."""
    drawn = POOL.draw(job(RICH.replace("Advice", "نصائح بعد الزيارة").replace("Rinse", "اشطف"), language="ar"))
    assert b"CasebookArabic" in drawn.pdf
    assert findings(drawn.pdf) == []


def without(*names: str) -> Change:
    def change(writer: PdfWriter) -> None:
        for name in names:
            writer.root_object.pop(NameObject(name), None)

    return change


def forget_title(writer: PdfWriter) -> None:
    writer.metadata = None


def down(thing: Any, *names: str) -> Any:
    for name in names:
        thing = thing[name].get_object()
    return thing


def unembed(writer: PdfWriter) -> None:
    for page in writer.pages:
        for font in down(page, "/Resources", "/Font").values():
            inner = down(font.get_object(), "/DescendantFonts")[0].get_object()
            down(inner, "/FontDescriptor").pop(NameObject("/FontFile2"), None)


def cut_the_tree(writer: PdfWriter) -> None:
    document = down(writer.root_object, "/StructTreeRoot", "/K")[0].get_object()
    document[NameObject("/K")] = ArrayObject()


def each(writer: PdfWriter, kind: str, change: Callable[[DictionaryObject], object]) -> None:
    for thing in writer._objects:
        if isinstance(thing, DictionaryObject) and thing.get("/S") == kind:
            change(thing)


def attach(writer: PdfWriter) -> None:
    writer.add_attachment("hidden.txt", b"hidden")


def untab(writer: PdfWriter) -> None:
    for page in writer.pages:
        del page["/Tabs"]


def silence_links(writer: PdfWriter) -> None:
    for page in writer.pages:
        for link in page.get("/Annots", ()):
            link.get_object()[NameObject("/Contents")] = TextStringObject("")


@pytest.mark.parametrize(
    ("change", "point"),
    [
        (without("/MarkInfo"), "tagged"),
        (without("/StructTreeRoot"), "tagged"),
        (without("/Lang"), "language"),
        (without("/ViewerPreferences"), "title shown"),
        (without("/OutputIntents"), "output intent"),
        (without("/Metadata"), "metadata"),
        (forget_title, "title"),
        (unembed, "font embedded"),
        (cut_the_tree, "text outside the tree"),
        (attach, "embedded file"),
        (untab, "order of tabbing"),
        (silence_links, "link without words"),
        (lambda writer: each(writer, "/Figure", lambda figure: figure.pop("/Alt", None)), "figure without words"),
        (lambda writer: each(writer, "/TH", lambda cell: cell.pop("/A", None)), "header without scope"),
    ],
)
def test_a_fault_is_found(good: bytes, change: Change, point: str) -> None:
    assert point in points(changed(good, change))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (without("/StructTreeRoot"), "UA-01-005"),
        (without("/Lang"), "no language"),
        (without("/Metadata"), "no title"),
        (unembed, "is not embedded"),
        (cut_the_tree, "drawn and never read"),
        (silence_links, "UA-18-005"),
        (lambda writer: each(writer, "/Figure", lambda figure: figure.pop("/Alt", None)), "UA-13-004"),
        (lambda writer: each(writer, "/TH", lambda cell: cell.pop("/A", None)), "header cell without scope"),
    ],
)
def test_two_other_readers_find_it_too(good: bytes, change: Change, words: str) -> None:
    assert others(good) == []
    assert any(words in found for found in others(changed(good, change)))


@pytest.mark.parametrize(
    ("body", "point"),
    [
        ("<h2>First</h2>", "headings"),
        ("<h1>One</h1><h3>Skipped</h3>", "headings"),
        ("<h1>One</h1><h1>Two</h1>", "headings"),
        ("<h1>One</h1><table><tr><td>x</td></tr></table>", "table without headers"),
    ],
)
def test_a_faulty_page_is_found(body: str, point: str) -> None:
    assert points(POOL.draw(job(body)).pdf) == [point]


def test_heads_of_pages_are_no_text_to_be_read(good: bytes) -> None:
    content = PdfReader(BytesIO(good)).pages[0].get_contents()
    assert content is not None
    data = content.get_data()
    # The head and the foot of the page; rules and backgrounds are plain artifacts.
    assert data.count(b"/Subtype/Header") == data.count(b"/Subtype/Footer") == 1
