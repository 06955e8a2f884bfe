"""Two records are joined: not behind a signature that was given without having seen what the other one brought up."""

from django.utils.translation import gettext_lazy as _

from clinic.patients import merging
from clinic.patients.merging import Joining
from clinic.trail.refusals import Refusal
from whitening.cases.joining import hold_cases
from whitening.screening.models import AssessmentSignature


class SignedMeanwhile(Refusal):
    code = "screening.signed_meanwhile"
    sentence = _(
        "A dentist has signed at this moment that everything was read, and has not seen the other record. "
        "Join them again; what both brought up is then read and signed together."
    )


def _check(joining: Joining) -> None:
    """Until this is committed every reader sees two records, so what was signed since it began is about one of them.

    The cases of both are held: whoever signs comes before this, or after it with a page that lists both.
    """
    signed = AssessmentSignature.objects.filter(case__in=hold_cases(joining), signed_at__gte=joining.now)
    if signed.exists():
        raise SignedMeanwhile


ROOM = merging.Room(code="screening", check=_check)
