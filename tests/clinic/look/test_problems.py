"""Pages that say what went wrong need no context, no request and no database."""

import pytest
from django.template.loader import render_to_string
from django.utils import translation

from tests.clinic.look.markup import read


@pytest.mark.parametrize("name", ["400", "403", "404", "405", "409", "429", "500", "csrf"])
def test_it_works(name: str) -> None:
    page = read(render_to_string(f"errors/{name}.html"))
    heading = page.one("h1").words
    assert page.one("title").words == heading
    assert len(page.one("main").all("p")[0].words) > 40  # what happened and what to do next


def test_a_conflict_says_which() -> None:
    page = read(render_to_string("errors/409.html", {"sentence": "Noor Haddad changed it at 14:30."}))
    assert page.one("main").all("p")[0].words == "Noor Haddad changed it at 14:30."


def test_it_has_a_direction_of_its_own() -> None:
    with translation.override("ar"):
        html = read(render_to_string("errors/500.html")).one("html")
    assert (html.attributes["lang"], html.attributes["dir"]) == ("ar", "rtl")
