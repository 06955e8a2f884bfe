"""Batches: received, held, released, written off."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError, transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site, User
from clinic.accounts.rights import Capability, require
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.cases.models import Product
from whitening.chairside.models import Batch, BatchHold, BatchUse, UseKind


class BatchKnown(Refusal):
    code = "chairside.batch_known"
    sentence = _("This batch was received before. Open it in the list instead of adding it again.")


class AlreadyHeld(Refusal):
    code = "chairside.already_held"
    sentence = _("This batch is on hold already. Reload the page to see since when.")


class NotHeld(Refusal):
    code = "chairside.not_held"
    sentence = _("This batch is on no hold. Reload the page to see what happened.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    product: Product
    number: str
    expires_on: date
    quantity: int
    unit: str


def receive_batch(*, site: Site, received: Received, user: User, actor: Actor, now: datetime) -> Batch:
    """Raises BatchKnown. An expired batch can be written down; it is never offered at a chair."""
    require(user, Capability.MATERIALS_USE, site)
    try:
        with transaction.atomic():
            batch = Batch.objects.create(
                site=site,
                product=received.product,
                number=received.number,
                expires_on=received.expires_on,
                received_on=now.astimezone(site.zone).date(),
                quantity_received=received.quantity,
                unit=received.unit,
            )
            values = {"product": received.product.pk, "number": received.number, "expires_on": received.expires_on}
            _record("chairside.batch_received", batch, actor, values)
    except IntegrityError as error:
        if not Batch.objects.filter(site=site, product=received.product, number=received.number).exists():
            raise
        raise BatchKnown from error
    return batch


def hold_batch(*, batch: Batch, why: str, user: User, actor: Actor, now: datetime) -> BatchHold:
    """Blocks the batch at every chair from this moment on. Raises AlreadyHeld."""
    require(user, Capability.BATCH_HOLD, batch.site)
    try:
        with transaction.atomic():
            hold = BatchHold.objects.create(batch=batch, held_at=now, held_by=user, why=why)
            _record("chairside.batch_held", batch, actor, {"why": why})
    except IntegrityError as error:
        if not batch.holds.filter(released_at=None).exists():
            raise
        raise AlreadyHeld from error
    return hold


def release_batch(*, batch: Batch, because: str, user: User, actor: Actor, now: datetime) -> None:
    """Raises NotHeld."""
    require(user, Capability.MATERIALS_MANAGE, batch.site)
    with transaction.atomic():
        released = batch.holds.filter(released_at=None).update(
            released_at=now, released_by=user, released_because=because
        )
        if not released:
            raise NotHeld
        _record("chairside.batch_released", batch, actor, {"because": because})


def waste(*, batch: Batch, quantity: int, user: User, actor: Actor, now: datetime) -> BatchUse:
    require(user, Capability.MATERIALS_USE, batch.site)
    with transaction.atomic():
        use = BatchUse.objects.create(
            batch=batch, kind=UseKind.WASTED, quantity=quantity, used_at=now, used_by=actor.name
        )
        _record("chairside.batch_wasted", batch, actor, {"quantity": quantity})
    return use


def _record(verb: str, batch: Batch, actor: Actor, values: Mapping[str, object]) -> None:
    record(verb=verb, actor=actor, subject=("batch", batch.pk), patient_id=None, site_id=batch.site_id, values=values)
