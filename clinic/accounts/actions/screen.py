"""The screen lock: opening it again, and handing the screen to a colleague who signed in here today."""

from collections.abc import Callable

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import F

from clinic.accounts import rules
from clinic.accounts.models import User
from clinic.accounts.refusals import PinTooSimple, TooManyTries, WrongPin, WrongSecret
from clinic.trail.record import record
from clinic.trail.refusals import Refusal


def choose_pin(*, user: User, pin: str) -> None:
    if rules.is_simple_pin(pin):
        raise PinTooSimple
    with transaction.atomic():
        User.objects.filter(pk=user.pk).update(pin_hash=make_password(pin), pin_failures=0)
        _record("accounts.pin_changed", user)


def open_lock(*, user: User, typed: str) -> None:
    """By PIN, or by the password of whoever is signed in."""
    _count_tries(user, lambda: _is_pin(user, typed) or check_password(typed, user.password), WrongSecret)


def take_over(*, user: User, pin: str) -> None:
    """By PIN alone: somebody whose full sign-in at this screen still holds."""
    _count_tries(user, lambda: _is_pin(user, pin), WrongPin)
    with transaction.atomic():
        _record("accounts.switched_to", user)


def forget_failures(user: User) -> None:
    if user.pin_failures:
        User.objects.filter(pk=user.pk).update(pin_failures=0)


def _is_pin(user: User, typed: str) -> bool:
    return bool(user.pin_hash) and check_password(typed, user.pin_hash)


def _count_tries(user: User, is_right: Callable[[], bool], wrong: type[Refusal]) -> None:
    # The try is taken before it is judged, in one statement: parallel guesses each cost one.
    taken = User.objects.filter(pk=user.pk, pin_failures__lt=rules.PIN_TRIES).update(pin_failures=F("pin_failures") + 1)
    if not taken:
        raise TooManyTries
    if is_right():
        User.objects.filter(pk=user.pk).update(pin_failures=0)
        return
    with transaction.atomic():
        _record("accounts.unlock_failed", user)
    failures = User.objects.values_list("pin_failures", flat=True).get(pk=user.pk)
    raise wrong(left=rules.tries_left(failures)) if failures < rules.PIN_TRIES else TooManyTries


def _record(verb: str, user: User) -> None:
    record(verb=verb, actor=user.actor, subject=("user", user.pk), patient_id=None, site_id=None, values={})
