"""Lights: what their makers allow, and the checks of their output."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import User
from clinic.accounts.rights import Capability, require
from clinic.diary.models import Resource, ResourceKind
from clinic.trail.actor import Actor
from clinic.trail.record import record
from clinic.trail.refusals import Refusal
from whitening.chairside.models import LightCheck, LightUnit


class NoSuchLight(Refusal):
    code = "chairside.no_such_light"
    sentence = _("That is no light of the diary. Add the light under Set-up first.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LightDetails:
    output_least_mw_cm2: int
    output_most_mw_cm2: int
    probe_distance_mm: int
    serial: str = ""
    service_due_on: date | None = None
    out_of_use_since: date | None = None
    heat_warning: str = ""


def save_light(*, resource: Resource, details: LightDetails, user: User, actor: Actor) -> LightUnit:
    """Raises NoSuchLight."""
    require(user, Capability.MATERIALS_MANAGE, resource.site)
    if resource.kind != ResourceKind.LIGHT:
        raise NoSuchLight
    with transaction.atomic():
        unit, _created = LightUnit.objects.update_or_create(resource=resource, defaults=asdict(details))
        _record("chairside.light_changed", unit, actor, asdict(details))
    return unit


def check_light(
    *, unit: LightUnit, output_mw_cm2: int, distance_mm: int, user: User, actor: Actor, now: datetime
) -> LightCheck:
    """Passes inside the unit's own range, measured at the unit's own distance."""
    site = unit.resource.site
    require(user, Capability.LIGHT_CHECK, site)
    in_range = unit.output_least_mw_cm2 <= output_mw_cm2 <= unit.output_most_mw_cm2
    with transaction.atomic():
        check = LightCheck.objects.create(
            unit=unit,
            checked_at=now,
            checked_on=now.astimezone(site.zone).date(),
            checked_by=actor.name,
            output_mw_cm2=output_mw_cm2,
            distance_mm=distance_mm,
            # Output falls with distance and differently for each light: another distance says nothing.
            passed=in_range and distance_mm == unit.probe_distance_mm,
        )
        values = {"output_mw_cm2": output_mw_cm2, "distance_mm": distance_mm, "passed": check.passed}
        _record("chairside.light_checked", unit, actor, values)
    return check


def _record(verb: str, unit: LightUnit, actor: Actor, values: Mapping[str, object]) -> None:
    record(
        verb=verb,
        actor=actor,
        subject=("light", unit.pk),
        patient_id=None,
        site_id=unit.resource.site_id,
        values=values,
    )
