"""A letter's text as HTML is what Django's own two filters make of it, whatever stands in a line."""

import pytest
from django.utils.html import linebreaks, urlize
from hypothesis import given
from hypothesis import strategies as st

from clinic.messages.channels.marking import paragraphs

PIECES = [
    "Hello",
    " ",
    "\n",
    "\n\n",
    "\r\n",
    "<b>",
    "&",
    "&amp;",
    '"',
    "'",
    "(",
    ")",
    ".",
    ",",
    ";",
    "/",
    "http://localhost/p/l/MN0Xfut14P5_I84zSQJr2UvG-BsU/",
    "https://practice.example.org:8443/p/e/a_-9/",
    "HTTPS://Practice.example.org/",
    "https://practice.example.org/über?x=1&y=2",
    "www.example.org",
    "example.com",
    "example.com/x",
    "desk@example.org",
    "10.30",
    "+44 20 7946 0100",
    "Löjou",
]


def by_django(text: str) -> str:
    return str(linebreaks(urlize(text, nofollow=True, autoescape=True)))


@pytest.mark.parametrize("piece", PIECES)
def test_each_alone(piece: str) -> None:
    assert paragraphs(piece) == by_django(piece)


@given(st.lists(st.sampled_from(PIECES) | st.text(max_size=5), max_size=12).map("".join))
def test_any_text(text: str) -> None:
    assert paragraphs(text) == by_django(text)
