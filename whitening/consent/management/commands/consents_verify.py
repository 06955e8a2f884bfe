"""Says whether every signed consent is still what was signed; any other answer ends with an error."""

from typing import IO, Any, cast

from django.core.exceptions import ObjectDoesNotExist
from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rich.console import Console

from clinic.documents.progress import progress
from whitening.consent.models import PaperWithdrawal, Signature
from whitening.consent.seals import is_unaltered, is_unaltered_withdrawal

CHUNK = 500


class Command(BaseCommand):
    help = str(
        gettext_lazy("Check every signed consent against its seal: words, answers, signatures, choices, moment.")
    )
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        console = Console(file=cast(IO[str], self.stdout), highlight=False, soft_wrap=True)
        signatures = Signature.objects.order_by("pk").prefetch_related(
            "text__interpreter_signature__reading__paper",
            "document",
            "answers",
            "reading__paper",
            "reading__form",
            "reading__text",
            "reading__check_made",
            "countersignature",
            "withdrawal",
        )
        withdrawals = PaperWithdrawal.objects.order_by("pk").prefetch_related(
            "reading__paper", "reading__form", "reading__text"
        )
        total, altered = signatures.count(), 0
        with progress(console, total, title=_("Signed consents")) as advance:
            for done, signature in enumerate(signatures.iterator(CHUNK), start=1):
                if not _holds(signature):
                    altered += 1
                    console.print(_line(signature), style="red", markup=False)
                advance(done)
        for withdrawal in withdrawals.iterator(CHUNK):
            if not _holds_on_paper(withdrawal):
                altered += 1
                console.print(_withdrawal_line(withdrawal), style="red", markup=False)
        console.print(
            _("Signed consents checked: %(count)d. Altered %(altered)d.") % {"count": total, "altered": altered}
        )
        if altered:
            raise CommandError(_("Not all consents are what was signed. The trail and a backup say what they were."))
        console.print(_("✓ All consents are as they were signed."), style="green")


def _holds(signature: Signature) -> bool:
    try:
        return is_unaltered(signature)
    except ObjectDoesNotExist:
        # The words or the paper are gone: a fault to be told, not a row to be left out.
        return False


def _holds_on_paper(withdrawal: PaperWithdrawal) -> bool:
    try:
        return is_unaltered_withdrawal(withdrawal)
    except ObjectDoesNotExist:
        return False


def _withdrawal_line(withdrawal: PaperWithdrawal) -> str:
    return _("✗ altered: withdrawal of paper reading %(reading)d") % {"reading": withdrawal.reading_id}


def _line(signature: Signature) -> str:
    return _("✗ altered: signature %(signature)d of case %(case)d") % {
        "signature": signature.pk,
        "case": signature.case_id,
    }
