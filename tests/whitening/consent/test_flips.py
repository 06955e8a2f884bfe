"""Ten thousand single bits, anywhere in what was signed, printed, or put down in the trail: all are seen."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from random import Random, getrandbits

import pytest
from django.conf import settings
from django.core.exceptions import ObjectDoesNotExist
from django.db import DatabaseError, connection, models, transaction

from clinic.documents import archive
from clinic.documents.failures import FileAltered
from clinic.trail import clock, sealing
from clinic.trail.models import TrailEntry, TrailSeal
from clinic.trail.verify import verify
from tests.cast import Cast, actor_of
from tests.clinic.trail.writing import unguarded
from tests.papers import a_pdf
from tests.whitening import course
from tests.whitening.consent import onpaper
from tests.whitening.consent.flipping import NotStorable, Place, flipped_bytes, places
from whitening.consent.actions import withdraw
from whitening.consent.models import PaperWithdrawal, Signature
from whitening.consent.seals import is_unaltered, is_unaltered_withdrawal

pytestmark = pytest.mark.django_db
OPEN_TO_THE_INTRUDER = (
    "trail_entry",
    "trail_seal",
    "whitening_consent_signature",
    "whitening_consent_consenttext",
    "whitening_screening_answerset",
    "whitening_consent_countersignature",
    "whitening_consent_withdrawal",
    "whitening_consent_interpretersignature",
    "whitening_consent_paperreading",
    "whitening_consent_papercheck",
    "whitening_consent_paperwithdrawal",
)
# When the words were first shown, which is before they were signed.
NOT_SIGNED = {"frozen_at"}


@pytest.fixture
def signature(cast: Cast, quick_paper: None) -> Signature:
    """Its entries in the trail are sealed; those of the countersignature and of the withdrawal are not."""
    signature = course.signed(cast, course.ready_to_sign(cast))
    sealing.anchor_tick(clock.real_now())
    course.countersigned(cast, signature.case)
    withdraw(case=signature.case, words="I am pregnant.", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    return Signature.objects.select_related("text", "document").get(pk=signature.pk)


def trail_holds() -> bool:
    return verify(anchor_dir=Path(settings.TRAIL_ANCHOR_DIR)).holds


def consent_holds(signature: Signature) -> bool:
    try:
        return is_unaltered(Signature.objects.select_related("text", "document").get(pk=signature.pk))
    except ObjectDoesNotExist:
        return False


def withdrawal_holds(row: PaperWithdrawal) -> bool:
    try:
        return is_unaltered_withdrawal(PaperWithdrawal.objects.get(pk=row.pk))
    except ObjectDoesNotExist:
        return False


@contextmanager
def undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def how_it_ends(place: Place, random: Random, holds: Callable[[], bool]) -> str:
    """ "seen", "refused" by the database itself, or "unseen"."""
    try:
        with undone():
            place.put(place.flipped(random))
            # As at the end of a transaction: a reference that leads nowhere is refused.
            connection.check_constraints([type(place.row)._meta.db_table])
            return "unseen" if holds() else "seen"
    except (NotStorable, DatabaseError, OverflowError):
        return "refused"


def paper_ends(signature: Signature, random: Random) -> str:
    assert signature.document is not None
    path = archive.path_of(signature.document.sha256)
    pdf = path.read_bytes()
    path.write_bytes(flipped_bytes(pdf, random))
    try:
        archive.read(signature.document.sha256)
    except FileAltered:
        return "seen"
    finally:
        path.write_bytes(pdf)
    return "unseen"


@pytest.mark.soak
def test_whatever_single_bit_is_changed_is_seen(
    signature: Signature, size: Callable[[int], int], note: Callable[..., None]
) -> None:
    random = Random(getrandbits(32))  # noqa: S311  (which bit, not a secret)
    sealed, unsealed = list(TrailEntry.objects.filter(seal__isnull=False)), list(TrailEntry.objects.unsealed())
    assert (len(sealed) > 5, bool(unsealed)) == (True, True)
    assert signature.answers is not None
    signed: list[models.Model] = [signature, signature.text, signature.answers]
    signed += [signature.countersignature, signature.withdrawal]
    kinds = {
        "consent": [place for place in places(signed) if place.column not in NOT_SIGNED],
        "trail, sealed": places([*sealed, *TrailSeal.objects.all()]),
        "trail, not yet sealed": places([*unsealed]),
    }
    ends: Counter[tuple[str, str]] = Counter()
    with unguarded(*OPEN_TO_THE_INTRUDER):
        for _flip in range(size(10_000)):
            kind = random.choice(["paper", *kinds])
            if kind == "paper":
                ends[kind, paper_ends(signature, random)] += 1
                continue
            holds = (lambda: consent_holds(signature)) if kind == "consent" else trail_holds
            ends[kind, how_it_ends(random.choice(kinds[kind]), random, holds)] += 1
    note(**{" ".join(key): count for key, count in sorted(ends.items())})
    assert {kind for (kind, end) in ends if end == "seen"} == {"paper", *kinds}
    assert [kind for (kind, end) in ends if end == "unseen"] == []
    assert consent_holds(signature)
    assert trail_holds()


MINUTE = timedelta(minutes=1)
INTERPRETED = {"interpreter": "present", "interpreter_name": "Ngozi Eze", "interpreter_language": "Igbo"}


@pytest.mark.soak
def test_whatever_single_bit_about_a_consent_on_paper_is_changed_is_seen(
    cast: Cast, quick_paper: None, size: Callable[[int], int], note: Callable[..., None]
) -> None:
    """Who read it and what, who compared it, that the interpreter signed there; and a no that came in between."""
    case = course.ready_to_sign(cast)
    course.talked(cast, case, now=course.SIGNED_AT, **INTERPRETED)
    form = onpaper.printed(cast, case)
    withdrawn = onpaper.written_down(cast, case, what=onpaper.said(form))
    withdraw(case=case, words="I am pregnant.", actor=course.themselves(cast), now=course.SIGNED_AT - MINUTE)
    no = PaperWithdrawal.objects.get(reading=withdrawn)
    course.talked(cast, case, now=course.SIGNED_AT, **INTERPRETED)
    said = onpaper.said(onpaper.printed(cast, case), interpreter_signed=True)
    paper = onpaper.scanned(cast, case, content=a_pdf(2))
    signature = onpaper.compared(cast, onpaper.written_down(cast, case, paper=paper, what=said))
    assert signature is not None
    assert signature.reading is not None
    signed: list[models.Model] = [signature, signature.text, signature.text.interpreter_signature]
    signed += [signature.reading, signature.reading.check_made, no, withdrawn]
    held = [place for place in places(signed) if place.column not in NOT_SIGNED]
    random, ends = Random(getrandbits(32)), Counter[str]()  # noqa: S311  (which bit, not a secret)

    def holds() -> bool:
        return consent_holds(signature) and withdrawal_holds(no)

    assert holds()
    with unguarded(*OPEN_TO_THE_INTRUDER):
        for _flip in range(size(4_000)):
            place = random.choice(held)
            end = how_it_ends(place, random, holds)
            assert end != "unseen", place
            ends[end] += 1
    note(**ends)
    assert holds()
