"""A visitor without a browser: keeps cookies, sends forms back as a page gave them, follows redirects."""

import re
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.cookiejar import CookieJar

TITLE = re.compile(r"<title>\s*(.*?)\s*</title>", re.DOTALL)


@dataclass(frozen=True)
class Answer:
    status: int
    address: str
    text: str

    @property
    def title(self) -> str:
        found = TITLE.search(self.text)
        return " ".join(found.group(1).split()) if found else ""


class _Inputs(HTMLParser):
    """The hidden values of the page's forms: the token above all."""

    def __init__(self) -> None:
        super().__init__()
        self.values: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        each = dict(attrs)
        if tag == "input" and each.get("type") == "hidden" and each.get("name"):
            self.values[str(each["name"])] = each.get("value") or ""


@dataclass
class Visitor:
    address: str
    cookies: CookieJar = field(default_factory=CookieJar)

    def answers(self) -> bool:
        try:
            return self.get("/health/").status > 0
        except urllib.error.URLError:
            return False

    def get(self, path: str) -> Answer:
        return self._ask(urllib.request.Request(self.address + path))  # noqa: S310  (our own address)

    def send(self, path: str, **values: str) -> Answer:
        """Open the page, fill its form in, send it."""
        return self.post(path, self.hidden(path) | values)

    def hidden(self, path: str) -> dict[str, str]:
        inputs = _Inputs()
        inputs.feed(self.get(path).text)
        return inputs.values

    def post(self, path: str, values: Mapping[str, str]) -> Answer:
        body = urllib.parse.urlencode(values).encode()
        headers = {"Referer": self.address + path, "Origin": self.address}
        return self._ask(urllib.request.Request(self.address + path, data=body, headers=headers))  # noqa: S310

    def sign_in(self, *, email: str, password: str) -> Answer:
        return self.send("/sign-in/", login=email, password=password)

    def _ask(self, request: urllib.request.Request) -> Answer:
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self.cookies))
        try:
            with opener.open(request, timeout=30) as answer:
                return Answer(answer.status, answer.url, answer.read().decode())
        except urllib.error.HTTPError as answer:
            return Answer(answer.code, answer.url, answer.read().decode(errors="replace"))
