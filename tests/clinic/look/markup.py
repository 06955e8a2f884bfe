"""Reads a page the way its reader's software does: elements with their attributes and their words."""

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}


@dataclass
class Element:
    tag: str
    attributes: dict[str, str]
    children: list["Element"] = field(default_factory=list)
    pieces: list["Element | str"] = field(default_factory=list)

    @property
    def words(self) -> str:
        inside = (piece if isinstance(piece, str) else piece.words for piece in self.pieces)
        return " ".join(" ".join(inside).split())

    def walk(self) -> list["Element"]:
        return [self, *(each for child in self.children for each in child.walk())]

    def all(self, tag: str, **attributes: str) -> list["Element"]:
        """`class_` asks for one of the classes; any other attribute must be equal."""
        return [each for each in self.walk() if each.tag == tag and each._has(attributes)]

    def one(self, tag: str, **attributes: str) -> "Element":
        found = self.all(tag, **attributes)
        assert len(found) == 1, f"{len(found)} of {tag} {attributes}"
        return found[0]

    def _has(self, attributes: dict[str, str]) -> bool:
        for name, value in attributes.items():
            if name == "class_":
                if value not in self.attributes.get("class", "").split():
                    return False
            elif self.attributes.get(name.rstrip("_").replace("_", "-")) != value:
                return False
        return True


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("", {})
        self._open = [self.root]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, {name: value or "" for name, value in attrs})
        self._open[-1].children.append(element)
        self._open[-1].pieces.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_endtag(self, tag: str) -> None:
        assert self._open[-1].tag in {tag, ""} or tag in VOID, f"</{tag}> closes <{self._open[-1].tag}>"
        if tag not in VOID:
            self._open.pop()

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        self._open[-1].pieces.append(data)


def read(html: str) -> Element:
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return reader.root
