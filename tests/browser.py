"""Debian's Chromium, watched: a page that breaks its own content policy or logs an error fails the test."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Response, sync_playwright

CHROMIUM = "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
AXE_TAGS = ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]
Device = Literal["desk", "tablet", "phone"]
SIZES: dict[Device, tuple[int, int]] = {"desk": (1280, 800), "tablet": (1024, 768), "phone": (390, 844)}
# Before any script of the page: what the policy refuses is reported to the test.
REPORT = "addEventListener('securitypolicyviolation', e => reportViolation(e.violatedDirective + ' ' + e.blockedURI))"


@dataclass
class Watched:
    """A browser whose pages are listened to. A refusal that a test provokes is named in `expected`."""

    browser: Browser
    problems: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=list)
    contexts: list[BrowserContext] = field(default_factory=list)

    def open(self, address: str, *, device: Device = "desk", **options: Any) -> Page:
        """A person of their own: no cookie is shared with any other page."""
        width, height = SIZES[device]
        touch = device != "desk"
        context = self.browser.new_context(
            base_url=address, viewport={"width": width, "height": height}, has_touch=touch, **options
        )
        context.set_default_timeout(15_000)
        context.expose_function("reportViolation", lambda what: self.problems.append(f"content policy: {what}"))
        context.add_init_script(REPORT)
        context.on("console", self._console)
        context.on("response", self._response)
        context.on("weberror", lambda error: self.problems.append(f"page error: {error.error}"))
        self.contexts.append(context)
        return context.new_page()

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.problems.append(f"console: {message.text}")

    def _response(self, response: Response) -> None:
        if response.status >= 500:
            self.problems.append(f"{response.status} from {response.url}")

    def unexpected(self) -> list[str]:
        return [each for each in self.problems if not any(re.search(pattern, each) for pattern in self.expected)]


@contextmanager
def watched() -> Iterator[Watched]:
    with sync_playwright() as playwright:
        # Playwright gives each launch a fresh profile and removes it afterwards.
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        watch = Watched(browser)
        try:
            yield watch
        finally:
            for context in watch.contexts:
                context.close()
            browser.close()
    assert watch.unexpected() == []


def axe(page: Page) -> None:
    """No violation of the levels that look and law ask for, on the page as it stands now."""
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": AXE_TAGS}})
    assert found.violations_count == 0, f"{page.url}\n{found.generate_report()}"
