"""The one colour space of tooth work here: CIELAB for D65 and the 2-degree observer."""

from typing import NamedTuple


class Lab(NamedTuple):
    """Never fill this from an image editor: theirs is D50, and a tooth then reads 2.6 to 5.4 whiteness units low."""

    lightness: float
    a: float
    b: float


class Xyz(NamedTuple):
    """Y of white is 1."""

    x: float
    y: float
    z: float


class Rgb(NamedTuple):
    """Eight-bit sRGB."""

    red: int
    green: int
    blue: int

    @property
    def hex(self) -> str:
        return f"#{self.red:02X}{self.green:02X}{self.blue:02X}"
