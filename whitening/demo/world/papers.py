"""Papers that go out to be signed or answered, and come back: one of each kind."""

from datetime import date
from io import BytesIO

from django.db import transaction
from PIL import Image, ImageDraw

from clinic.documents.filing import PaperDetails, file_away_paper, file_paper, prepare_paper
from clinic.documents.models import IncomingPaper, PaperKind
from whitening.consent.actions import (
    InterpreterInput,
    PaperSaid,
    check_paper,
    interpreter_signs,
    print_form,
    read_paper,
    text_to_interpret,
)
from whitening.consent.models import PhotoUse
from whitening.demo.world.lives import SIGNATURE, Life
from whitening.demo.world.passing import living_at
from whitening.screening.actions import LetterDetails, attach_reply, write_letter

WIDTH, HEIGHT = 620, 877


def sign_on_paper(life: Life) -> None:
    """Printed and scanned by the assistant, written down by one of them and compared by the other."""
    nurse, dentist = life.house.one("assistant"), life.house.one("dentist")
    form = print_form(case=life.case, user=nurse, actor=nurse.actor, now=life.now)
    paper = _filed(life, PaperDetails(kind=PaperKind.CONSENT, received_on=_day(life), dated_on=_day(life)))
    said = PaperSaid(
        signer_name=life.patient.name.upper(),
        signed_on=_day(life),
        is_whole=True,
        photographs={use: use == PhotoUse.RECORD for use in PhotoUse},
        form=form,
    )
    reading = read_paper(case=life.case, paper=paper, said=said, user=nurse, actor=nurse.actor, now=life.now)
    check_paper(reading=reading, agrees=True, words="", user=dentist, actor=dentist.actor, now=life.now)


def let_interpreter_sign(life: Life, name: str) -> None:
    nurse = life.house.one("assistant")
    text = text_to_interpret(case=life.case, now=life.now)
    if text is None:
        return
    given = InterpreterInput(name=name, declared=True, seen_sha256=text.sha256, strokes=SIGNATURE)
    interpreter_signs(case=life.case, given=given, user=nurse, actor=nurse.actor, now=life.now)


def ask_a_doctor(life: Life, rule: str) -> None:
    """A letter about one finding; the answer lies there for the dentist to read and decide."""
    dentist, desk = life.house.one("dentist"), life.house.one("desk")
    details = LetterDetails(
        rule=rule,
        addressee="Dr Ilse Aumann\nSkin Clinic\n4 Mill Lane, Fernbrook",
        question="The patient was told that she has porphyria. May blue light come near her gums, and from when on?",
        planned="Whitening of teeth with a peroxide gel. Nothing is planned before your answer.",
        patient_agrees=True,
    )
    with living_at(life.now):
        letter = write_letter(case=life.case, details=details, user=dentist, actor=dentist.actor, now=life.now)
    life.later(hours=2)
    with living_at(life.now):
        came = PaperDetails(kind=PaperKind.LETTER, sender="Dr Ilse Aumann", dated_on=_day(life), received_on=_day(life))
        content = scan(signed=True)
        paper = prepare_paper(
            patient=life.patient, details=came, content=content, user=desk, now=life.now, subject=("case", life.case.pk)
        )
        with transaction.atomic():
            file_away_paper(paper, content=content, actor=desk.actor)
            attach_reply(letter=letter, paper=paper, user=desk, actor=desk.actor, now=life.now)


def scan(*, signed: bool) -> bytes:
    """A page as a scanner sees it, with grey bars for words: nothing on it is anybody's."""
    page = Image.new("L", (WIDTH, HEIGHT), 246)
    pen = ImageDraw.Draw(page)
    for line in range(32):
        width = 300 + (line * 97) % 200
        pen.rectangle((60, 80 + line * 20, 60 + width, 88 + line * 20), fill=168)
    for stroke in SIGNATURE if signed else []:
        points = [(60 + x // 4, 760 + y // 4) for x, y, _ms in stroke]
        pen.line(points, fill=40, width=3)
    out = BytesIO()
    page.save(out, "PNG")
    return out.getvalue()


def _filed(life: Life, details: PaperDetails) -> IncomingPaper:
    nurse = life.house.one("assistant")
    return file_paper(
        patient=life.patient,
        details=details,
        content=scan(signed=True),
        user=nurse,
        actor=nurse.actor,
        now=life.now,
        subject=("case", life.case.pk),
    )


def _day(life: Life) -> date:
    return life.now.astimezone(life.house.site.zone).date()
