"""The doors to single rows: each gives the row of one of the person's sites, or 404.

Somebody may have another role at each of their sites. Every door is told what is asked for (`to`), and asks it at
the row's own site, whichever site is on the screen.
"""

from operator import attrgetter
from typing import TypeVar

from django.db.models import Model, QuerySet
from django.http import Http404

from clinic.accounts.models import Invitation, OnCallTurn, Site, User
from clinic.accounts.rights import Capability, require

Row = TypeVar("Row", bound=Model)


def one_of(rows: QuerySet[Row], *, user: User, pk: int, to: Capability, site: str = "site") -> Row:
    """One of the rows that the person can see; `site` names the way to its own. Raises Http404 or NotAllowed."""
    row = rows.filter(pk=pk).first()
    if row is None:
        raise Http404
    require(user, to, attrgetter(site)(row))
    return row


def access_site(*, user: User, pk: int, to: Capability) -> Site:
    site = Site.objects.visible_to(user).select_related("practice").filter(pk=pk).first()
    if site is None:
        raise Http404
    require(user, to, site)
    return site


def access_person(*, user: User, site: Site, pk: int, to: Capability) -> User:
    """Whoever has a role at the site, also when their access has ended. People are seen as they are at one site."""
    require(user, to, site)
    person = User.objects.filter(pk=pk, memberships__site=site).distinct().first()
    if person is None:
        raise Http404
    return person


def access_invitation(*, user: User, pk: int, to: Capability) -> Invitation:
    rows = Invitation.objects.filter(site__in=Site.objects.visible_to(user)).select_related("site")
    return one_of(rows, user=user, pk=pk, to=to)


def access_turn(*, user: User, pk: int, to: Capability) -> OnCallTurn:
    rows = OnCallTurn.objects.visible_to(user).select_related("site", "person")
    return one_of(rows, user=user, pk=pk, to=to)
