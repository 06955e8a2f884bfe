"""The first page of a person: the first part of the program that their role opens."""

from django.contrib.auth.models import AnonymousUser
from django.urls import NoReverseMatch, resolve, reverse

from clinic.accounts.doors import door_of
from clinic.accounts.models import User
from clinic.accounts.rights import may

# Today for everybody who works with patients; Set-up for who only sets up.
FIRST_PAGES = ("today", "setup", "own_account")


def first_page(user: User | AnonymousUser) -> str:
    for name in FIRST_PAGES:
        try:
            address = reverse(name)
        except NoReverseMatch:
            continue
        door = door_of(resolve(address).func)
        if door is not None and door.capability is not None and may(user, door.capability):
            return address
    return reverse("account_login")
