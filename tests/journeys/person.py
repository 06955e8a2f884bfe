"""Somebody at a browser. Counts what they do: a click, a tap, a choice or one field filled is one."""

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import urlsplit

from playwright.sync_api import Page, expect

from tests.browser import axe
from tests.cast import PASSWORD, PIN, TOTP_SECRET
from tests.clinic.accounts.totp import lasting_totp

# Two cores shared with a database, a broker and two workers: slow is not wrong.
PATIENCE_MS = 60_000
expect.set_options(timeout=PATIENCE_MS)


@dataclass
class Person:
    page: Page
    done: int = 0
    # Of two journeys over the same pages one looks at each page's access; it takes a second every time.
    looks_at_access: bool = True

    def __post_init__(self) -> None:
        self.page.set_default_timeout(PATIENCE_MS)

    def opens(self, address: str) -> None:
        """By its address; a screen of the practice that was left alone for some minutes asks for the PIN first."""
        self.page.goto(address)
        if urlsplit(self.page.url).path == "/lock/":
            self.page.locator("input[name=typed]").fill(PIN)
            self.page.get_by_role("button", name="Open", exact=True).click()
            self.page.wait_for_url(lambda url: "/lock/" not in url)
            self.page.goto(address)

    def press(self, name: str) -> None:
        """A button or a link by the words on it."""
        exact = re.compile(rf"^\s*{re.escape(name)}")
        self.page.get_by_role("button", name=exact).or_(self.page.get_by_role("link", name=exact)).first.click()
        self.done += 1

    def fill(self, label: str, value: str) -> None:
        self.page.get_by_label(label, exact=False).first.fill(value)
        self.done += 1

    def choose(self, label: str) -> None:
        """A choice by its words; as a finger does it, on the label."""
        self.page.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(label)}\s*$")).first.click()
        self.done += 1

    def mark(self, control: str) -> None:
        """A choice by the id of its control, where the same word stands many times on the page."""
        self.page.locator(f"label[for='{control}']").click()
        self.done += 1

    def takes_the_first_time(self) -> datetime:
        """Of a page with free times; one press books it."""
        button = self.page.locator("button[name=start_at]").first
        start_at = datetime.fromisoformat(button.get_attribute("value") or "")
        with self.page.expect_navigation():
            button.click()
        self.done += 1
        return start_at.astimezone(UTC)

    def sees(self, *words: str) -> None:
        for each in words:
            expect(self.page.get_by_text(each).first).to_be_visible()

    def sees_nowhere(self, *words: str) -> None:
        """Neither shown nor hidden in the page's source."""
        source = self.page.content()
        assert [each for each in words if each in source] == []

    def stands_on(self, heading: str) -> None:
        """The page that says this in its heading; each is also checked for everybody's access."""
        expect(self.page.get_by_role("heading", level=1)).to_contain_text(heading)
        self.looks()

    def looks(self) -> None:
        if self.looks_at_access:
            axe(self.page)


def sign_in(page: Page, email: str, *, factor: bool = False, looks_at_access: bool = True) -> Person:
    """Not counted: interactions count from Today."""
    person = Person(page, looks_at_access=looks_at_access)
    page.goto("/sign-in/")
    page.locator("input[name=login]").fill(email)
    page.locator("input[name=password]").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    if factor:
        page.locator("input[name=code]").fill(lasting_totp(TOTP_SECRET))
        page.locator("input[name=code]").press("Enter")
    page.wait_for_url(lambda url: url.rstrip("/").count("/") == 2)
    return person
