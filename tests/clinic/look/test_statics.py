"""What is collected for production: every file a page names, hashed, and nothing that no page asks for."""

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.management import call_command
from django.template.loader import render_to_string
from django.test import override_settings

from clinic.documents import fonts

PRODUCTION = {"staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"}}


@pytest.fixture(scope="module")
def collected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    fonts.build()
    root = tmp_path_factory.mktemp("static")
    with override_settings(STORAGES=PRODUCTION, STATIC_ROOT=root):
        call_command("collectstatic", interactive=False, verbosity=0)
    return root


def test_it_works(collected: Path) -> None:
    with override_settings(STORAGES=PRODUCTION, STATIC_ROOT=collected):
        page = render_to_string("errors/404.html") + render_to_string("shell/_scripts.html")
        named = re.findall(r'(?:src|href)="/static/([^"]+)"', page)
        assert len(named) > 10
        for name in named:
            assert re.search(r"\.[0-9a-f]{12}\.\w+$", name), name
            assert (collected / name).is_file()
        stored = staticfiles_storage.url("css/fonts.css").removeprefix("/static/")
        sheet = (collected / stored).read_text(encoding="utf-8")
    assert len(re.findall(r"casebook-\w+-\d+\.[0-9a-f]{12}\.woff2", sheet)) == len(fonts.WEB)


def test_nothing_else_is_packed(collected: Path) -> None:
    names = {path.name for path in collected.rglob("*") if path.is_file()}
    assert [name for name in names if name.endswith((".ttf", ".ttf.br")) or "-4." in name] == []
    assert "htmx-2.min.js" in names
