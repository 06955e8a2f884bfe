"""Drawings on a sheet: SVG alone, of a fixed list of shapes. A picture that could reach for anything is refused."""

import re
from base64 import b64decode
from binascii import Error as NotBase64
from urllib.parse import unquote_to_bytes

from lxml import etree

from clinic.documents.refusing import Unprintable

_SVG = "http://www.w3.org/2000/svg"
_SHAPES = {"svg", "g", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon", "text", "tspan", "title"}
# Not among them: style, href, class, mask, filter, clip-path, url(): whatever names something else.
_PLACING = {"x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "r", "rx", "ry", "d", "points", "width", "height"}
_LOOKS = {"fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin", "opacity", "fill-rule"}
_WORDS = {"font-family", "font-size", "font-weight", "text-anchor", "direction"}
_ATTRIBUTES = _PLACING | _LOOKS | _WORDS | {"transform", "viewBox"}
# They say something to a browser and nothing to paper.
_IDLE = {"class", "role", "aria-label", "version", "xmlns", "preserveAspectRatio"}
# A page's own parser writes all names small.
_SPELLED = {name.lower(): name for name in _ATTRIBUTES | _IDLE}
_SIZE = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,3})?)(px|mm|pt|)")
_DATA = re.compile(r"data:image/svg\+xml((?:;[a-z0-9=-]+)*),(.*)", re.DOTALL)
_MOST_BYTES, _MOST_SHAPES = 512 * 1024, 5_000
_PLAIN = {"px": 0.75, "": 0.75, "pt": 1.0, "mm": 72 / 25.4}


def from_address(address: str) -> etree._Element:
    """The drawing inside a `data:` address. Raises Unprintable for any other address, and for no drawing."""
    match = _DATA.fullmatch(address)
    if match is None:
        raise Unprintable("blocked" if ":" in address else "incomplete")
    content = unquote_to_bytes(match[2])
    try:
        content = b64decode(content, validate=True) if match[1].endswith(";base64") else content
        # A declared document type is the way to entities, which is the way to gigabytes.
        if len(content) > _MOST_BYTES or b"<!" in content:
            raise Unprintable("blocked")
        return etree.fromstring(content, etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False))
    except (NotBase64, etree.XMLSyntaxError) as error:
        raise Unprintable("incomplete") from error


def redrawn(picture: etree._Element) -> tuple[str, float, float]:
    """The drawing written anew with what is allowed, and its width and height in points."""
    if sum(1 for _shape in picture.iter(etree.Element)) > _MOST_SHAPES:
        raise Unprintable("incomplete")
    width, height = (_points(picture.get(name, "")) for name in ("width", "height"))
    copy = _copied(picture)
    copy.set("xmlns", _SVG)
    return etree.tostring(copy, encoding="unicode"), width, height


def _copied(shape: etree._Element) -> etree._Element:
    name = etree.QName(shape).localname
    if name not in _SHAPES:
        raise Unprintable("blocked")
    copy = etree.Element(name)
    copy.text, copy.tail = shape.text, shape.tail
    for key, value in shape.attrib.items():
        spelled = _SPELLED.get(key.lower())
        if spelled is None or "url(" in value:
            raise Unprintable("blocked")
        if spelled not in _IDLE:
            copy.set(spelled, value)
    copy.extend([_copied(inner) for inner in shape.iterchildren(etree.Element)])
    return copy


def _points(length: str) -> float:
    match = _SIZE.fullmatch(length.strip())
    if match is None:
        raise Unprintable("incomplete")
    return float(match[1]) * _PLAIN[match[2]]
