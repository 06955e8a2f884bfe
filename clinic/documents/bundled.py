"""The files a sheet may name: a fixed table, so that no name inside a document ever becomes a path.

This module is also read by the renderer's own process and imports nothing but the standard library.
"""

from pathlib import Path

# Made there by `manage.py build_fonts`, together with the fonts of the pages.
FONTS_DIR = Path(__file__).resolve().parent.parent.parent / "static" / "fonts"
# File and family.
FONTS = {
    "casebook-sans-400.ttf": "Casebook Sans",
    "casebook-sans-600.ttf": "Casebook Sans Semibold",
    "casebook-arabic-400.ttf": "Casebook Arabic",
    "casebook-arabic-600.ttf": "Casebook Arabic Semibold",
}
ASSETS = {f"asset:{name}": FONTS_DIR / name for name in FONTS}


def missing_files() -> list[str]:
    return sorted(path.name for path in ASSETS.values() if not path.is_file())
