"""A page that names a command, an option, a setting, a file or a make target names one that there is."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class

from scripts.lint import ROOT
from tests.structure.test_prose import commands, settings_read

PAGES = sorted([*(ROOT / "docs").glob("*.md"), ROOT / "README.md", ROOT / "DEVELOPERS.md"])
# Files that a reader of the pages copies, and that hold commands and settings too.
COPIED = sorted([*(ROOT / "docs" / "systemd").iterdir(), ROOT / "docs" / "database-roles.sql"])
CONTAINERS = [ROOT / "docker-compose.yml", ROOT / "Dockerfile"]
ALL = [*PAGES, *COPIED, *CONTAINERS]

COMMAND = re.compile(r"(?:manage\.py|casebook-manage)(?: --owner| --files)? +([a-z_]+)([^`\n]*)")
# Where the words of a command end: another command, a comment, the closing quote of a shell's line, a sentence.
END = re.compile(r"&&|;|\||#|\"$|\"\]$|, |\. |\.$")
SETTING = re.compile(r"\bCASEBOOK_[A-Z][A-Z_]*[A-Z]\b")
LINK = re.compile(r"\]\((?!https?:)([^)#\s]+)")
# Read by docs/database-roles.sql alone: the program itself never knows both passwords.
NOT_OURS = {"CASEBOOK_OWNER_PASSWORD", "CASEBOOK_APP_PASSWORD"}


def spoken(text: str) -> Iterator[tuple[str, list[str]]]:
    """Each command of ours in a text, with the options that follow it."""
    # In docker-compose.yml a command is a list of words.
    plain = re.sub(r"\[python, manage\.py, ([^\]]*)\]", lambda hit: f"manage.py {hit[1].replace(',', '')}", text)
    for name, rest in COMMAND.findall(plain):
        words = END.split(rest, maxsplit=1)[0]
        yield name, re.findall(r"(?<!\S)\[?(--[a-z-]+)", words)


def unknown_words(text: str) -> list[str]:
    """What a text promises of the command line and the command line does not know."""
    django = get_commands()
    found = []
    for name, options in spoken(text):
        if name not in django:
            # The demo's own command is there only with the demo switched on.
            found += [] if name in commands() else [name]
            continue
        known = load_command_class(django[name], name).create_parser("manage.py", name)._option_string_actions
        found += [f"{name} {option}" for option in options if option not in known]
    return found


def unknown_settings(text: str) -> set[str]:
    named = {name.removesuffix("_FILE") for name in SETTING.findall(text)}
    return named - set(settings_read()) - NOT_OURS


def shell_blocks(page: Path) -> list[str]:
    return re.findall(r"^```sh\n(.*?)^```", page.read_text(), re.MULTILINE | re.DOTALL)


def test_what_this_page_would_find() -> None:
    good = "`manage.py restore ARCHIVE --into DIR`, casebook-manage --owner migrate --noinput && nothing --else"
    assert (list(spoken(good)), unknown_words(good)) == ([("restore", ["--into"]), ("migrate", ["--noinput"])], [])
    assert list(spoken("command: [python, manage.py, restore, --check]")) == [("restore", ["--check"])]
    assert unknown_words("`manage.py restore --chek`, `casebook-manage --files bild_fonts`") == [
        "restore --chek",
        "bild_fonts",
    ]
    assert unknown_settings("CASEBOOK_SECRET_KEY_FILE, CASEBOOK_HOST") == {"CASEBOOK_HOST"}


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.name)
def test_every_command_and_option_is_there(path: Path) -> None:
    assert unknown_words(path.read_text()) == []


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.name)
def test_every_setting_is_there(path: Path) -> None:
    assert unknown_settings(path.read_text()) == set()


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_every_link_leads_somewhere(path: Path) -> None:
    assert [name for name in LINK.findall(path.read_text()) if not (path.parent / name).exists()] == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_every_make_target_is_there(path: Path) -> None:
    targets = re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    named = re.findall(r"`make ([a-z-]+)|^make ([a-z-]+)", path.read_text(), re.MULTILINE)
    assert [one or other for one, other in named if (one or other) not in targets] == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_every_file_of_ours_that_a_block_reads_is_there(path: Path) -> None:
    words = [word.strip("'\"") for block in shell_blocks(path) for word in shlex.split(block, comments=True)]
    ours = [word.removeprefix("/opt/casebook/") for word in words if word.startswith("/opt/casebook/")]
    # Made by earlier lines of the same page.
    made = {".venv", ".venv/bin/pip", "staticfiles"}
    assert [name for name in ours if name not in made and not list(ROOT.glob(name))] == []
