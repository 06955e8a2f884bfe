"""What every page needs besides its own content: where one is, where one may go, how it is to look."""

from dataclasses import dataclass
from datetime import UTC, timedelta, tzinfo
from functools import cached_property

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, resolve, reverse
from django.utils.functional import Promise
from django.utils.translation import get_language_bidi
from django.utils.translation import gettext_lazy as _

from clinic.accounts.doors import Door, door_of
from clinic.accounts.models import Practice, Site, User
from clinic.accounts.rights import may

# In the order of a working day. A part that is not installed has no address and is left out.
PARTS: tuple[tuple[str, Promise], ...] = (
    ("today", _("Today")),
    ("diary", _("Diary")),
    ("patients", _("Patients")),
    ("followups", _("Follow-ups")),
    ("materials", _("Materials")),
    ("results", _("Results")),
    ("setup", _("Set-up")),
)
# Only where the demo is installed.
DEMO_PARTS: tuple[tuple[str, Promise], ...] = (
    ("demo_mailbox", _("Demo mailbox")),
    ("demo_clock", _("Demo clock")),
)
ON_THE_BAR = 4  # as many as fit on a phone beside "More"
THEMES = ("light", "dark")


@dataclass(frozen=True, kw_only=True)
class Entry:
    word: str | Promise
    url: str
    current: bool


class Shell:
    """The frame of one page. Each part is worked out only when the page's template asks for it."""

    def __init__(self, request: HttpRequest) -> None:
        self._request = request
        user = getattr(request, "user", None)
        self._user = user if isinstance(user, User) else None
        # The staff's current site, or the site of the patient whose link was opened.
        self.site: Site | None = getattr(request, "site", None)
        self.demo: bool = settings.DEMO
        self.direction = "rtl" if get_language_bidi() else "ltr"
        theme = request.COOKIES.get("casebook_theme")
        self.theme = theme if theme in THEMES else ""
        self.names_hidden = names_are_hidden(request)

    @property
    def signed_in(self) -> bool:
        return self._user is not None

    @property
    def person_name(self) -> str:
        return "" if self._user is None else self._user.name

    @property
    def zone(self) -> tzinfo:
        return UTC if self.site is None else self.site.zone

    @cached_property
    def place(self) -> str:
        """Whose page this is: the practice's name, with the site's where there is one."""
        if self.site is not None:
            return str(self.site)
        practice = Practice.objects.only("name").first()
        return "Whitening Casebook" if practice is None else practice.name

    @cached_property
    def entries(self) -> list[Entry]:
        return self._open_to_them(PARTS)

    @property
    def demo_entries(self) -> list[Entry]:
        return self._open_to_them(DEMO_PARTS)

    @property
    def first_entries(self) -> list[Entry]:
        return self.entries[:ON_THE_BAR]

    @property
    def more_entries(self) -> list[Entry]:
        return self.entries[ON_THE_BAR:]

    @cached_property
    def other_sites(self) -> list[Site]:
        if self._user is None or self.site is None:
            return []
        return list(Site.objects.visible_to(self._user).exclude(pk=self.site.pk))

    @property
    def switch_url(self) -> str:
        return url_or_nothing("switch_site")

    @property
    def lock_url(self) -> str:
        return url_or_nothing("lock")

    @property
    def idle_seconds(self) -> int:
        return settings.IDLE_LOCK_AFTER // timedelta(seconds=1)

    @property
    def account_url(self) -> str:
        return url_or_nothing("own_account")

    @property
    def leave_url(self) -> str:
        return url_or_nothing("account_logout")

    def _open_to_them(self, parts: tuple[tuple[str, Promise], ...]) -> list[Entry]:
        return [entry for name, word in parts if (entry := self._entry(name=name, word=word))]

    def _entry(self, *, name: str, word: Promise) -> Entry | None:
        """A part is shown when the door of its own view would let this person in: there is no second list of rights."""
        url = url_or_nothing(name)
        if not url:
            return None
        door = door_of(resolve(url).func)
        if door is None or not self._may_enter(door):
            return None
        path = self._request.path
        return Entry(word=word, url=url, current=path == url or (url != "/" and path.startswith(url)))

    def _may_enter(self, door: Door) -> bool:
        if door.capability is None:
            return door.kind == "public"
        return may(self._user, door.capability, self.site)


def url_or_nothing(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


def shell(request: HttpRequest) -> dict[str, Shell]:
    return {"shell": Shell(request)}


def names_are_hidden(request: HttpRequest) -> bool:
    """Whether the person has hidden all names on this screen; what is printed from it then names nobody either."""
    return request.COOKIES.get("casebook_names") == "hidden"
