"""What a patient's browser may still read right after the press that ended its own link."""

from datetime import timedelta

from django.core import signing

from clinic.diary.models import Booking

SALT = "clinic.diary.selfservice"
LASTS = timedelta(hours=2)


def of(booking: Booking, what: str) -> str:
    return signing.dumps([booking.pk, what], salt=SALT)


def read(receipt: str) -> tuple[int, str]:
    """Raises BadSignature for anything else, and once it is old."""
    pk, what = signing.loads(receipt, salt=SALT, max_age=LASTS)
    return int(pk), str(what)
