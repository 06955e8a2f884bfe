"""What the documents promise is there, and what is there is in the documents."""

import ast
import re
from pathlib import Path

from scripts.lint import ROOT

READERS = {"text", "flag", "whole", "words", "hosts", "origin", "address", "sender", "one_of", "folder", "keys"}
REGISTER = re.compile(r"register(?:_\w+)?$")
PACKAGES = ("clinic", "whitening")


def settings_read() -> dict[str, str]:
    """Each name that the settings read from the environment, with its default as it is written there."""
    tree = ast.parse((ROOT / "clinic/config/settings.py").read_text())
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)]
    ours = [node for node in calls if ast.unparse(node.func) in {f"env.{reader}" for reader in READERS}]
    return {ast.literal_eval(node.args[0]): ast.unparse(node.args[1]) if node.args[1:] else "" for node in ours}


def settings_documented() -> list[str]:
    return re.findall(r"^\| `(CASEBOOK_[A-Z_]+)` \|", (ROOT / "docs/settings.md").read_text(), re.MULTILINE)


def commands() -> list[str]:
    found = [path.stem for top in PACKAGES for path in (ROOT / top).glob("*/management/commands/*.py")]
    return sorted(name for name in found if not name.startswith("_"))


def registries() -> list[str]:
    """Every module of clinic that whitening may register something with."""
    found = []
    for path in sorted((ROOT / "clinic").rglob("*.py")):
        # A view and an action may register, say, a patient.
        if {"views", "actions", "actions.py"} & set(path.parts):
            continue
        functions = [node for node in ast.parse(path.read_text()).body if isinstance(node, ast.FunctionDef)]
        if any(REGISTER.match(node.name) and ast.unparse(node.args) for node in functions):
            found.append(".".join(path.relative_to(ROOT).with_suffix("").parts))
    return found


def developers() -> str:
    return (ROOT / "DEVELOPERS.md").read_text()


def test_every_setting_is_documented() -> None:
    documented = settings_documented()
    assert sorted(documented) == sorted(set(documented))
    assert set(documented) == set(settings_read())


def test_every_plain_default_is_documented() -> None:
    """Those that are written in the settings as a value; the others follow from other settings."""
    page = (ROOT / "docs/settings.md").read_text()
    wrong = []
    for name, default in settings_read().items():
        if re.fullmatch(r"'[^']+'|\d+|True|False", default):
            value = {"True": "1", "False": "0"}.get(default, default.strip("'"))
            row = re.search(rf"^\| `{name}` \|.*$", page, re.MULTILINE)
            cells = row[0].split(" | ") if row else []
            wrong += [] if cells[2:3] == [f"`{value}`"] else [f"{name}: {value}"]
    assert wrong == []


def test_every_command_is_documented() -> None:
    text = developers()
    assert [name for name in commands() if f"`{name}`" not in text] == []


def test_every_registry_is_documented() -> None:
    text = developers()
    assert [name for name in registries() if f"`{name}`" not in text] == []


def test_no_documented_module_is_gone() -> None:
    named = re.findall(r"`((?:clinic|whitening)(?:\.[a-z_]+)+)`", developers())
    missing = [name for name in named if not module_exists(name)]
    assert missing == []


def module_exists(name: str) -> bool:
    path = Path(ROOT, *name.split("."))
    return path.is_dir() or path.with_suffix(".py").is_file()


def test_every_make_target_is_documented() -> None:
    targets = re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE)
    text = developers() + (ROOT / "README.md").read_text()
    assert [name for name in targets if f"make {name}" not in text] == []
