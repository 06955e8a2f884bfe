"""The doors to single rows: each gives the row of one of the person's sites, or 404."""

from django.http import Http404

from clinic.accounts.models import Invitation, Site, User


def access_site(*, user: User, pk: int) -> Site:
    site = Site.objects.visible_to(user).select_related("practice").filter(pk=pk).first()
    if site is None:
        raise Http404
    return site


def access_person(*, site: Site, pk: int) -> User:
    """Whoever has a role at the site, also when their access has ended."""
    person = User.objects.filter(pk=pk, memberships__site=site).distinct().first()
    if person is None:
        raise Http404
    return person


def access_invitation(*, site: Site, pk: int) -> Invitation:
    invitation = Invitation.objects.select_related("site").filter(pk=pk, site=site).first()
    if invitation is None:
        raise Http404
    return invitation
