"""What local rules say about who must be there during a visit. Another room knows them; this room only asks."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django_stubs_ext import StrOrPromise

from clinic.accounts.models import Site
from clinic.diary.standard import SegmentPlan


@dataclass(frozen=True, slots=True)
class Ruling:
    """Whether a visit of these segments is allowed at this site, and the sentence that names the rule."""

    allowed: bool
    sentence: StrOrPromise


# Asked with the site, the code of the visit and its segments; nothing where no rule is known.
Provider = Callable[[Site, str, Sequence[SegmentPlan]], Sequence[Ruling]]
_providers: list[Provider] = []


def register(provider: Provider) -> None:
    if provider not in _providers:
        _providers.append(provider)


def rulings(site: Site, code: str, segments: Sequence[SegmentPlan]) -> list[Ruling]:
    return [ruling for provider in _providers for ruling in provider(site, code, segments)]
