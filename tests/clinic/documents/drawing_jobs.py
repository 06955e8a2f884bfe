"""Pages for the renderer's tests."""

from base64 import b64encode
from io import BytesIO

from pypdf import PdfReader

from clinic.documents.jobs import Job


def job(body: str, *, title: str = "A sheet", language: str = "en", identifier: str = "", around: str = "") -> Job:
    """around: what the page says of its heads and feet, as attributes."""
    return Job(
        html=f"<!doctype html><html><head><meta charset='utf-8'></head><body {around}>{body}</body></html>",
        title=title,
        language=language,
        direction="rtl" if language == "ar" else "ltr",
        paper="a4",
        made_at="2026-03-03T09:00:00+00:00",
        identifier=identifier,
    )


def svg(content: str, *, size: int = 20) -> str:
    """A picture as a data address."""
    text = f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}">{content}</svg>'
    return "data:image/svg+xml;base64," + b64encode(text.encode()).decode()


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
