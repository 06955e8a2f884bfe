"""What a site still lacks of its own page and of its people, in sentences for the Set-up list."""

from collections.abc import Iterator

from django.utils.functional import Promise
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from clinic.accounts import jurisdictions
from clinic.accounts.dates import moment_words
from clinic.accounts.models import Role, Site, User
from clinic.accounts.rota import coming_turns, gaps
from clinic.accounts.setup_pages import SetupPage
from clinic.trail.clock import now

Sentence = str | Promise


def of_site(site: Site) -> list[Sentence]:
    return list(_of_site(site))


def of_rota(site: Site) -> list[Sentence]:
    """Once a turn is written down its gaps are named; before that, whether anybody is on call at all."""
    at = now()
    found = gaps(site, now=at)
    if not found:
        return []
    if not coming_turns(site, now=at):
        return [_("Nobody is on call. A worrying answer goes to whoever closed the session.")]
    return [
        format_lazy(
            _("Nobody is on call from {start} until {end}."),
            start=moment_words(start, site.zone),
            end=moment_words(end, site.zone),
        )
        for start, end in found
    ]


def of_people(site: Site) -> list[Sentence]:
    return list(_of_people(site))


def _of_site(site: Site) -> Iterator[Sentence]:
    if site.jurisdiction not in jurisdictions.registered():
        yield _("Choose whose rules hold here. Until then no treatment can be planned.")
    for number, sentence in (
        (site.phone, _("The practice’s own telephone number is missing. Until then no link goes to a patient.")),
        (site.emergency_number, _("The emergency number is missing. Until then no link goes to a patient.")),
        (site.poison_number, _("The poison advice number is missing. Until then no link goes to a patient.")),
        (
            site.out_of_hours_number,
            _("The number outside opening hours is missing. Until then no link goes to a patient."),
        ),
    ):
        if not number:
            yield sentence


def _of_people(site: Site) -> Iterator[Sentence]:
    people = User.objects.of_site(site)
    if not people.filter(may_examine_and_decide=True, memberships__role=Role.CLINICIAN).exists():
        yield _("Nobody may examine and decide here. Until then no case gets a plan.")
    if not people.filter(may_carry_out=True, memberships__role=Role.CLINICIAN).exists():
        yield _("Nobody may carry out whitening here. Until then no session can be opened.")


PAGES = (
    SetupPage(
        code="site",
        title=_("Rules and numbers of this site"),
        url_name="site",
        missing=of_site,
        position=10,
        of_the_site=True,
    ),
    SetupPage(code="rota", title=_("Who is on call"), url_name="rota", missing=of_rota, position=15, of_the_site=True),
    SetupPage(code="people", title=_("People and their rights"), url_name="people", missing=of_people, position=20),
)
