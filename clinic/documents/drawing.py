"""One HTML page becomes one tagged PDF/A-3a file. Runs in the renderer's own process only."""

import logging
import unicodedata
import warnings
from typing import Any
from xml.etree.ElementTree import Element

from fontTools.ttLib import TTFont
from PIL import Image
from weasyprint import CSS, HTML, Document
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher, URLFetcherResponse

from clinic.documents.bundled import ASSETS, font_faces
from clinic.documents.finishing import finish
from clinic.documents.jobs import Drawing, Job
from clinic.documents.limits import Limits

VARIANT = "pdf/a-3a"
# Told by their first bytes, because the picture library opens by content and knows forty formats.
_PICTURES = {b"\x89PNG\r\n\x1a\n": "image/png", b"\xff\xd8\xff": "image/jpeg"}
_TEXTS = {"image/svg+xml", "text/css"}
_SVG = "http://www.w3.org/2000/svg"
_KEPT_STYLES = 16
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
_DRAWN_AS_NOTHING = {"Cc", "Cf", "Mn", "Me"}


class Unprintable(Exception):
    """The page cannot become a document; `reason` is one word for the log, without any of its content."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class BundledOnly(URLFetcher):  # type: ignore[misc]  # the library ships no types
    """Serves `data:` addresses and the fixed table of bundled files; anything else ends the job."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols={"data"}, allow_redirects=False, fail_on_errors=True)
        # Remembered, because the library swallows even fatal errors inside pictures.
        self.has_refused = False

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        try:
            return self._fetch(url, headers)
        except (ValueError, OSError):
            self.has_refused = True
            raise

    def _fetch(self, url: str, headers: dict[str, str] | None) -> URLFetcherResponse:
        if path := ASSETS.get(url):
            return URLFetcherResponse(url, path.read_bytes(), {"Content-Type": "font/ttf"})
        response = super().fetch(url, headers)
        body, kind = response.read(), response.content_type
        if kind not in _TEXTS:
            kind = next((kind for start, kind in _PICTURES.items() if body.startswith(start)), "")
        if not kind:
            raise ValueError("not a picture or a style sheet")
        return URLFetcherResponse("data:", body, {"Content-Type": kind})


class Complaints(logging.Handler):
    """Remembers that something on the sheet was left out: a sheet with a hole is worse than none."""

    def __init__(self) -> None:
        super().__init__(level=logging.ERROR)
        self.count = 0

    def emit(self, record: logging.LogRecord) -> None:
        self.count += 1


class Studio:
    """Fonts, styles and limits that all jobs of one process share."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.complaints = Complaints()
        logging.getLogger("weasyprint").addHandler(self.complaints)
        # A picture that is small as a file and huge when opened is refused before it is opened.
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        self.fetcher = BundledOnly()
        # One for all jobs: a fresh one per document costs 90 ms and is never given back.
        self.fonts = FontConfiguration()
        self.faces = CSS(string=font_faces(), font_config=self.fonts, url_fetcher=self.fetcher)
        self.drawable = _drawable_characters()
        self.pictures: dict[str, Any] = {}
        self.styles: dict[str, CSS] = {}

    def draw(self, job: Job) -> Drawing:
        self.complaints.count, self.fetcher.has_refused = 0, False
        page = HTML(string=job.html, url_fetcher=self.fetcher)
        root: Element = page.etree_element
        _refuse_attachments(root)
        _name(root, title=job.title, language=job.language)
        _put_pictures_into_words(root)
        undrawn = self._mark_undrawable(root)
        try:
            pdf, pages = self._write(page, job)
        finally:
            # Pictures of one patient never stay in memory for the next.
            self.pictures.clear()
        return Drawing(pdf=pdf, pages=pages, undrawn=undrawn)

    def _write(self, page: HTML, job: Job) -> tuple[bytes, int]:
        options = {
            "stylesheets": [self.faces, self._style(job.css)],
            "cache": self.pictures,
            "pdf_variant": VARIANT,
            "pdf_identifier": job.identifier.encode() or None,
        }
        document: Document = page.render(font_config=self.fonts, **options)
        if len(document.pages) > self.limits.pages:
            raise Unprintable("pages")
        pdf: bytes = document.write_pdf(finisher=finish, **options)
        if any(font.missing for font in document.fonts.values()):
            raise Unprintable("glyphs")
        if self.fetcher.has_refused:
            raise Unprintable("blocked")
        if self.complaints.count:
            raise Unprintable("incomplete")
        return pdf, len(document.pages)

    def _style(self, css: str) -> CSS:
        if css not in self.styles:
            if len(self.styles) >= _KEPT_STYLES:
                self.styles.clear()
            self.styles[css] = CSS(string=css, font_config=self.fonts, url_fetcher=self.fetcher)
        return self.styles[css]

    def _mark_undrawable(self, root: Element) -> str:
        undrawn: set[str] = set()
        for element in root.iter():
            if element.tag in {"head", "title", "style", "meta", "link"}:
                continue
            element.text = self._drawn(element.text, undrawn)
            element.tail = self._drawn(element.tail, undrawn)
            # The style sheet prints these in the margins of the pages.
            for name in [name for name in element.attrib if name.startswith("data-")]:
                element.set(name, self._drawn(element.get(name), undrawn) or "")
        return "".join(sorted(undrawn))

    def _drawn(self, text: str | None, undrawn: set[str]) -> str | None:
        strange = set(text or "") - self.drawable
        if not text or not strange:
            return text
        nothing = {mark for mark in strange if unicodedata.category(mark) in _DRAWN_AS_NOTHING}
        undrawn |= strange - nothing
        return text.translate({ord(mark): None if mark in nothing else _REPLACEMENT for mark in strange})


def _drawable_characters() -> set[str]:
    marks = {"\t", "\n", "\r", "\f"}
    for path in ASSETS.values():
        with TTFont(path, lazy=True) as font:
            marks |= {chr(point) for point in font.getBestCmap()}
    return marks


def _refuse_attachments(root: Element) -> None:
    """A file inside the file would be kept, sent and sealed with the sheet, unseen by its reader."""
    for element in root.iter():
        if "attachment" in element.get("rel", "").lower().split():
            raise Unprintable("blocked")


def _put_pictures_into_words(root: Element) -> None:
    """A drawing inside the page is read out by its title; its author wrote the words as in a web page."""
    for picture in root.iter(f"{{{_SVG}}}svg"):
        words = picture.get("aria-label", "").strip()
        if picture.find(f"{{{_SVG}}}title") is None:
            if not words:
                raise Unprintable("incomplete")
            title = Element(f"{{{_SVG}}}title")
            title.text = words
            picture.insert(0, title)


def _name(root: Element, *, title: str, language: str) -> None:
    root.set("lang", language)
    head = root.find("head")
    if head is None:
        raise Unprintable("incomplete")
    for old in head.findall("title"):
        head.remove(old)
    element = Element("title")
    element.text = title
    head.append(element)
