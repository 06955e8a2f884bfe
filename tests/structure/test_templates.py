"""Every template compiles, and what it names is there: static files, addresses, included templates."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.template.loader import get_template
from django.urls import URLResolver, get_resolver

from scripts.lint import ROOT

TEMPLATES = ROOT / "templates"
# Its pages and addresses are there only with the demo switched on, which these tests are without.
DEMO = "demo"


def ours() -> list[str]:
    names = [path.relative_to(TEMPLATES) for path in sorted(TEMPLATES.rglob("*")) if path.suffix in {".html", ".txt"}]
    return [str(name) for name in names if name.parts[0] != DEMO]


def named(pattern: str, text: str) -> set[str]:
    return set(re.findall(pattern, text))


def address_names(resolver: URLResolver) -> Iterator[str]:
    for each in resolver.url_patterns:
        if isinstance(each, URLResolver):
            yield from address_names(each)
        elif each.name:
            yield each.name


@pytest.mark.parametrize("name", ours())
def test_it_compiles_and_names_what_is_there(name: str) -> None:
    get_template(name)
    text = (TEMPLATES / name).read_text()
    assert {path for path in named(r"{% static [\"']([^\"']+)[\"']", text) if not is_there(path)} == set()
    known = set(address_names(get_resolver()))
    assert {each for each in named(r"{% url [\"']([\w-]+)[\"']", text) if not each.startswith("demo")} <= known
    for included in named(r"{% (?:include|extends) [\"']([^\"']+)[\"']", text):
        if not included.startswith(f"{DEMO}/"):
            get_template(included)


def is_there(path: str) -> bool:
    """Fonts are cut at install and are not in the repository."""
    return path.startswith("fonts/") or finders.find(path) is not None


def test_every_style_sheet_and_module_is_used() -> None:
    texts = "".join(path.read_text() for path in TEMPLATES.rglob("*") if path.suffix in {".html", ".txt"})
    modules = {
        path: path.read_text() for path in sorted(Path(ROOT / "static").rglob("*")) if path.suffix in {".css", ".js"}
    }
    unused = [
        str(path.relative_to(ROOT))
        for path in modules
        if path.name not in texts + "".join(text for other, text in modules.items() if other != path)
    ]
    assert unused == []
