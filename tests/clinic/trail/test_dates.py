"""A date has one shape, at the chair and everywhere else; each language has its own."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import translation

from clinic.trail.dates import day_in_words, plain_day

DAY = date(2026, 3, 3)


@pytest.mark.parametrize(
    ("language", "with_weekday", "plain"),
    [("en", "Tue 3 Mar 2026", "3 Mar 2026"), ("de", "Di 3. Mär 2026", "3. Mär 2026")],
)
def test_a_day_in_a_sentence(language: str, with_weekday: str, plain: str) -> None:
    with translation.override(language):
        assert (day_in_words(DAY), plain_day(DAY)) == (with_weekday, plain)


def test_no_part_has_a_shape_of_its_own() -> None:
    shape = re.compile(r"""["'](D )?j\.? M Y""")
    sources = [path for part in ("clinic", "whitening") for path in (Path(settings.BASE_DIR) / part).rglob("*.py")]
    own = [path.name for path in sources if "formats" not in path.parts and shape.search(path.read_text())]
    assert own == []
