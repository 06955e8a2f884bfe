"""What a site's diary still lacks, in sentences for the Set-up list."""

from collections.abc import Iterator

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.accounts.own_pages import OwnPage
from clinic.accounts.setup_pages import SetupPage
from clinic.diary.local_rules import rulings
from clinic.diary.models import Resource, ResourceKind, VisitType
from clinic.diary.segments import segments_of

Sentence = str | Promise
_KINDS: tuple[tuple[ResourceKind, Sentence], ...] = (
    (ResourceKind.ROOM, _("There is no room yet. Until then nothing can be booked.")),
    (ResourceKind.PERSON, _("Nobody has a place in the diary yet. Until then nothing can be booked.")),
)


def of_resources(site: Site) -> list[Sentence]:
    return list(_of_resources(site))


def of_visits(site: Site) -> list[Sentence]:
    kinds = VisitType.objects.bookable().filter(site=site).select_related("site")
    if not kinds:
        return [_("There is no kind of visit yet. Until then nothing can be booked.")]
    return [sentence for one in kinds for sentence in _against_rules(one)]


def _against_rules(kind: VisitType) -> list[Sentence]:
    """Whose rules hold can be chosen after a visit was set up."""
    found = rulings(kind.site, kind.code, segments_of(kind))
    return [f"{kind.name}: {ruling.sentence}" for ruling in found if not ruling.allowed]


def nothing(_site: Site) -> list[Sentence]:
    """Nobody need ever be away, and a practice may be open on every holiday."""
    return []


def of_calendars(_site: Site) -> list[Sentence]:
    """Nobody needs one: what is not there is not missing."""
    return []


def _of_resources(site: Site) -> Iterator[Sentence]:
    bookable = Resource.objects.bookable().filter(site=site)
    there = set(bookable.values_list("kind", flat=True))
    yield from (sentence for kind, sentence in _KINDS if kind not in there)
    # A light that is out of hours is never offered either.
    for name in bookable.filter(patterns=None).order_by("kind", "position", "name").values_list("name", flat=True):
        yield _("%(name)s has no hours yet, so it is never offered.") % {"name": name}


PAGES = (
    SetupPage(
        code="diary_resources",
        title=_("Rooms, people and lights, with their hours"),
        url_name="setup_resources",
        missing=of_resources,
        position=30,
    ),
    SetupPage(
        code="diary_closures",
        title=_("Leave, training, rooms out of use, closed days"),
        url_name="setup_closures",
        missing=nothing,
        position=32,
    ),
    SetupPage(
        code="diary_holidays", title=_("Public holidays"), url_name="setup_holidays", missing=nothing, position=34
    ),
    SetupPage(
        code="diary_visits",
        title=_("Kinds of visit and how long they take"),
        url_name="setup_visits",
        missing=of_visits,
        position=40,
    ),
    SetupPage(
        code="diary_calendars",
        title=_("Visits in other calendar programs"),
        url_name="setup_calendars",
        missing=of_calendars,
        position=45,
    ),
)
OWN_CALENDARS = OwnPage(
    code="diary_calendars",
    title=_("Your visits in another calendar program"),
    word=_("Look at them"),
    url_name="own_calendars",
)
