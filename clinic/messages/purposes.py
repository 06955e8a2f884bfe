"""What private links may be for. Each part registers its own purposes in `AppConfig.ready`."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.utils.functional import Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Half-open: the link works from `opens_at` until just before `closes_at`."""

    opens_at: datetime
    closes_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkPurpose:
    code: str
    # The page as the patient knows it: "Before your visit".
    title: str | Promise
    subject_kind: str
    # Name of the URL (under /p/) that the patient lands on once the link is exchanged.
    landing: str
    # When a link for this subject works; None when its purpose is done and no link may be made any more.
    window: Callable[[int, datetime], Window | None]
    # Name of the URL that takes the secret; nearly always the page with the button.
    route: str = "private_link"


class UnknownPurpose(LookupError):
    """A programming error, not a refusal: nobody registered this purpose."""


_purposes: dict[str, LinkPurpose] = {}


def register(purpose: LinkPurpose) -> None:
    if _purposes.get(purpose.code, purpose) is not purpose:
        raise ValueError(f"The link purpose {purpose.code!r} is registered twice.")
    _purposes[purpose.code] = purpose


def get(code: str) -> LinkPurpose:
    try:
        return _purposes[code]
    except KeyError:
        raise UnknownPurpose(f"Nobody registered the link purpose {code!r}.") from None


def registered() -> dict[str, LinkPurpose]:
    return dict(_purposes)
