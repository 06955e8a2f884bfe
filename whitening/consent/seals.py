"""From rows to what a seal is over, and whether it still holds."""

from datetime import datetime

from whitening.cases.models import Case
from whitening.consent import sealing, wording
from whitening.consent.models import (
    Countersignature,
    InterpreterSignature,
    PaperCheck,
    PaperReading,
    PaperWithdrawal,
    Signature,
    Withdrawal,
)
from whitening.consent.reading import interpreter_of
from whitening.screening.models import AnswerSet


def newest_answers_at(case: Case, at: datetime) -> AnswerSet | None:
    """The health answers as they stood at a moment: later ones are not what was signed about."""
    return case.answer_sets.filter(handed_in_at__lte=at).order_by("handed_in_at", "pk").last()


def sealed(signature: Signature) -> sealing.Signed:
    """What the signature's own hash is over, from its rows."""
    return sealing.Signed(
        text_sha256=signature.text.sha256,
        wording=signature.text.wording,
        language=signature.text.language,
        document_sha256=_paper_digest(signature),
        reading_sha256=_reading_digest(signature.reading),
        answers_sha256=_answers_digest(signature.answers) if signature.answers else "",
        case=signature.case_id,
        plan=signature.plan_id,
        talk=signature.text.talk_id,
        method=signature.method,
        name=signature.signer_name,
        strokes=signature.strokes,
        photographs=signature.photographs,
        device=signature.device,
        zone=signature.zone,
        signed_at=signature.signed_at,
    )


def _paper_digest(signature: Signature) -> str:
    if signature.reading:
        return signature.reading.paper.sha256
    return signature.document.sha256 if signature.document else ""


def _reading_digest(reading: PaperReading | None) -> str:
    return sealing.seal(sealed_reading(reading, compared=getattr(reading, "check_made", None))) if reading else ""


def sealed_reading(reading: PaperReading, *, compared: PaperCheck | None) -> sealing.Read:
    return sealing.Read(
        text_sha256=reading.text.sha256,
        talk=reading.text.talk_id,
        paper_sha256=reading.paper.sha256,
        form_sha256=reading.form.sha256 if reading.form else "",
        name=reading.signer_name,
        name_words=reading.name_words,
        signed_on=reading.signed_on,
        photographs=reading.photographs,
        interpreter_signed=reading.interpreter_signed,
        at=reading.read_at,
        by=reading.read_by_id,
        compared=_compared(compared) if compared else None,
    )


def _compared(check: PaperCheck) -> sealing.Compared:
    return sealing.Compared(
        agrees=check.agrees, words=check.words, at=check.checked_at, by=check.checked_by_id, read_by=check.read_by_id
    )


def _answers_digest(answers: AnswerSet) -> str:
    return sealing.answers_digest(
        case=answers.case_id,
        questionnaire=answers.questionnaire,
        language=answers.language,
        source=answers.source,
        given_on=answers.given_on,
        handed_in_at=answers.handed_in_at,
        handed_in_by=answers.handed_in_by,
        values=answers.values,
    )


def sealed_interpreter(signature: InterpreterSignature) -> sealing.Interpreted:
    return sealing.Interpreted(
        text_sha256=signature.text.sha256,
        paper_sha256=signature.reading.paper.sha256 if signature.reading else "",
        reading_sha256=_reading_digest(signature.reading),
        case=signature.text.case_id,
        method=signature.method,
        name=signature.signer_name,
        language=signature.language,
        strokes=signature.strokes,
        heard_by=signature.heard_by_id,
        zone=signature.zone,
        signed_at=signature.signed_at,
    )


def sealed_countersignature(row: Countersignature) -> sealing.Countersigned:
    return sealing.Countersigned(
        signature_sha256=row.signature.sha256, by=row.countersigned_by_id, at=row.countersigned_at
    )


def sealed_withdrawal(row: Withdrawal) -> sealing.Withdrawn:
    return sealing.Withdrawn(
        signature_sha256=row.signature.sha256, words=row.words, by=row.withdrawn_by, at=row.withdrawn_at
    )


def sealed_paper_withdrawal(row: PaperWithdrawal) -> sealing.PaperWithdrawn:
    """Over what the first person read; whatever the second one finds comes after it."""
    return sealing.PaperWithdrawn(
        reading_sha256=sealing.seal(sealed_reading(row.reading, compared=None)),
        words=row.words,
        by=row.withdrawn_by,
        at=row.withdrawn_at,
    )


def is_unaltered_withdrawal(row: PaperWithdrawal) -> bool:
    return sealing.seal(sealed_paper_withdrawal(row)) == row.sha256


def _afterwards_hold(signature: Signature) -> bool:
    """What may follow on a signature, each once."""
    countersignature: Countersignature | None = getattr(signature, "countersignature", None)
    withdrawal: Withdrawal | None = getattr(signature, "withdrawal", None)
    return all(
        (
            countersignature is None
            or sealing.seal(sealed_countersignature(countersignature)) == countersignature.sha256,
            withdrawal is None or sealing.seal(sealed_withdrawal(withdrawal)) == withdrawal.sha256,
        )
    )


def is_unaltered(signature: Signature) -> bool:
    """Words, answers and signatures are bit for bit what was signed. A paper's own bytes are checked when opened."""
    text = signature.text
    words_hold = wording.sha256(text.body) == text.sha256
    for_this_plan = (text.case_id, text.plan_id) == (signature.case_id, signature.plan_id)
    interpreter = interpreter_of(text)
    interpreter_holds = interpreter is None or sealing.seal(sealed_interpreter(interpreter)) == interpreter.sha256
    holds = words_hold and for_this_plan and interpreter_holds and _afterwards_hold(signature)
    return holds and sealing.seal(sealed(signature)) == signature.sha256
