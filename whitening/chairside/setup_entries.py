"""What the chairs of a site still lack, in sentences for the Set-up list: gel in date, lights with a passed check."""

from collections.abc import Iterator
from datetime import date

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.accounts.models import Site
from clinic.accounts.setup_pages import SetupPage
from clinic.diary.models import LightKind, Resource, ResourceKind
from clinic.trail.clock import now
from whitening.cases.models import Product, ProductKind
from whitening.chairside.models import Batch
from whitening.chairside.readiness import unit_ready

Sentence = str | Promise


def of_batches(site: Site) -> list[Sentence]:
    usable = Batch.objects.usable(_today(site)).filter(site=site).values("product")
    gels = Product.objects.filter(kind=ProductKind.GEL, active=True)
    if gels.filter(pk__in=usable).exists():
        missing = gels.exclude(pk__in=usable).values_list("name", flat=True)
        return [_("No batch of %(name)s is in date.") % {"name": name} for name in missing]
    return [_("No batch of a whitening gel is in date. Until then no session can start.")]


def of_lights(site: Site) -> list[Sentence]:
    return list(_of_lights(site, _today(site)))


def _of_lights(site: Site, day: date) -> Iterator[Sentence]:
    lights = Resource.objects.filter(site=site, kind=ResourceKind.LIGHT, active=True)
    found = list(lights.select_related("light_unit").prefetch_related("light_unit__checks"))
    if all(light.light_kind != LightKind.HAND_HELD for light in found):
        yield _("No hand-held light yet. Until then no gum barrier can be cured.")
    for light in found:
        unit = getattr(light, "light_unit", None)
        if unit is None:
            yield _("%(name)s: its limits are missing, so its output cannot be checked.") % {"name": light.name}
        elif unit.out_of_use_since is None and not unit_ready(unit, day):
            yield _("%(name)s: a light check or its service is due. Until then it is not used.") % {"name": light.name}


def _today(site: Site) -> date:
    # The list asks with the site alone, so this is the edge where the clock is read.
    return now().astimezone(site.zone).date()


PAGES = (
    SetupPage(code="batches", title=_("Batches in date"), url_name="materials", missing=of_batches, position=60),
    SetupPage(code="lights", title=_("Lights and their checks"), url_name="materials", missing=of_lights, position=70),
)
