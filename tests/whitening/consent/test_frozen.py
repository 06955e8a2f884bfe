"""What was signed cannot be changed unseen: hash, seal, kept bytes, and guards in the database."""

from collections.abc import Callable
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from pypdf import PdfReader

from clinic.accounts.models import Site
from clinic.documents import archive, bundled, fonts, rendering
from clinic.documents.failures import FileAltered
from tests.cast import Cast, actor_of
from tests.pdf import findings
from tests.support import nothing_written
from tests.whitening import course
from whitening.cases.models import Isolation
from whitening.consent import wording
from whitening.consent.actions import choose_photographs, withdraw
from whitening.consent.models import PhotoUse, Signature
from whitening.consent.sealing import canonical, seal
from whitening.consent.seals import is_unaltered, sealed

pytestmark = pytest.mark.django_db
TABLES = ("consenttext", "signature", "countersignature", "withdrawal", "talk", "quote", "photochoice")


@pytest.fixture
def signature(cast: Cast, quick_paper: None) -> Signature:
    case = course.ready_to_sign(cast)
    return course.signed(cast, case)


def flips(raw: bytes, count: int) -> list[bytes]:
    """The same bytes with one bit changed, at places spread over the whole, first and last included."""
    bits = len(raw) * 8
    count = min(count, bits)
    changed = []
    for place in sorted({round(step * (bits - 1) / max(1, count - 1)) for step in range(count)}):
        one = bytearray(raw)
        one[place // 8] ^= 1 << (place % 8)
        changed.append(bytes(one))
    return changed


def words_are_seen_as_changed(signature: Signature, changed: bytes) -> bool:
    try:
        signature.text.body = changed.decode("utf-8")
    except UnicodeDecodeError:
        # Not text any more: no database would give it back.
        return True
    return not is_unaltered(signature)


@pytest.mark.soak
def test_one_flipped_bit_of_the_words_is_seen(
    signature: Signature, size: Callable[[int], int], note: Callable[..., None]
) -> None:
    assert is_unaltered(signature)
    changed = flips(signature.text.body.encode(), size(10_000))
    unseen = sum(not words_are_seen_as_changed(signature, one) for one in changed)
    note(flips=len(changed), unseen=unseen)
    assert (len(changed), unseen) == (size(10_000), 0)


@pytest.mark.soak
def test_one_flipped_bit_of_the_signature_is_seen(
    signature: Signature, size: Callable[[int], int], note: Callable[..., None]
) -> None:
    """Over everything the seal stands for: name, strokes with their timing, choices, device, place, moment."""
    whole = canonical(sealed(signature))
    changed = flips(whole, size(10_000))
    assert seal(sealed(signature)) == signature.sha256
    unseen = sum(one == whole or wording.sha256(one.decode("latin-1")) == signature.sha256 for one in changed)
    note(flips=len(changed), unseen=unseen)
    assert unseen == 0


@pytest.mark.parametrize(("field", "value"), [
    ("signer_name", "Amara Nwosa"),
    ("strokes", [[[100, 200, 0], [160, 80, 111], [220, 210, 230]], [[300, 120, 900], [420, 190, 1100]]]),
    ("photographs", {"record": True, "teaching": True, "publication": False, "public": False}),
    ("device", "tablet or computer"),
    ("zone", "Europe/Paris"),
    ("method", "typed"),
    ("case_id", 4711),
    ("plan_id", 4711),
])  # fmt: skip
def test_each_thing_that_was_signed_is_under_the_seal(signature: Signature, field: str, value: object) -> None:
    setattr(signature, field, value)
    assert not is_unaltered(signature)


def test_the_health_answers_are_under_the_seal(signature: Signature) -> None:
    """Element 13 says that they are true: which they were, and each of them, is part of what was signed."""
    assert signature.answers is not None
    assert is_unaltered(signature)
    kept = dict(signature.answers.values)
    for name, answer in kept.items():
        signature.answers.values = kept | {name: answer | {"value": ["another"]}}
        assert not is_unaltered(signature), name
    signature.answers.values = {name: answer for name, answer in kept.items() if name != "medicines"}
    assert not is_unaltered(signature)
    signature.answers.values = kept
    assert is_unaltered(signature)
    signature.answers = None
    assert not is_unaltered(signature)


def test_later_answers_are_not_what_was_signed(cast: Cast, signature: Signature) -> None:
    signed_about = signature.answers
    later = course.SIGNED_AT + timedelta(days=1)
    course.answered(cast, signature.case, now=later, medicines=("ibuprofen",))
    again = Signature.objects.get(pk=signature.pk)
    assert (again.answers, is_unaltered(again)) == (signed_about, True)


def test_the_moment_is_under_the_seal(signature: Signature) -> None:
    signature.signed_at += timedelta(microseconds=1)
    assert not is_unaltered(signature)


def test_read_back_from_the_database_it_is_whole(signature: Signature) -> None:
    again = Signature.objects.select_related("text", "document").get(pk=signature.pk)
    assert is_unaltered(again)
    assert canonical(sealed(again)) == canonical(sealed(signature))


def test_one_flipped_bit_of_the_paper_is_seen(signature: Signature) -> None:
    assert signature.document is not None
    path = archive.path_of(signature.document.sha256)
    pdf = path.read_bytes()
    assert archive.read(signature.document.sha256) == pdf
    for changed in flips(pdf, 60):
        path.write_bytes(changed)
        with pytest.raises(FileAltered):
            archive.read(signature.document.sha256)
    path.write_bytes(pdf)


def test_the_paper_is_never_drawn_again(cast: Cast, signature: Signature, monkeypatch: pytest.MonkeyPatch) -> None:
    """Opened as evidence it is the kept file, whatever became of the patient's name and of the wording."""
    from tests.cast import sign_in  # noqa: PLC0415  (only here)

    assert signature.document is not None
    kept = archive.read(signature.document.sha256)

    def drawn(**_rest: object) -> Any:
        raise AssertionError("drawn again")

    monkeypatch.setattr(rendering, "draw", drawn)
    cast.patient.name = "Another Name"
    cast.patient.save()
    answer = sign_in(cast.clinician).get(f"/documents/{signature.document.pk}/")
    assert answer.status_code == 200
    assert answer.content == kept


@pytest.mark.parametrize("table", TABLES)
def test_guards_refuse_changes(cast: Cast, signature: Signature, table: str) -> None:
    case = signature.case
    course.countersigned(cast, case)
    withdraw(case=case, words="", actor=actor_of(cast.desk), now=course.SIGNED_AT)
    choose_photographs(case=case, choices={PhotoUse.RECORD: False}, actor=actor_of(cast.desk), now=course.SIGNED_AT)
    name = f"whitening_consent_{table}"
    for sql in (f"UPDATE {name} SET id = id", f"DELETE FROM {name}"):  # noqa: S608  (our own names)
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            connection.cursor().execute(sql)
    if connection.vendor == "postgresql":
        connection.check_constraints()
        with nothing_written(), pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            connection.cursor().execute(f"TRUNCATE {name} CASCADE")


@pytest.mark.parametrize("table", ["answerset", "examinationrecord", "decision", "reask", "reaskdecision"])
def test_what_was_screened_only_grows(table: str, cast: Cast) -> None:
    from clinic.trail import guards  # noqa: PLC0415  (only here)

    names = {guards.trigger_name(f"whitening_screening_{table}", event) for event in ("update", "delete")}
    assert names <= guards.present("default")


@pytest.fixture
def fonts_are_made() -> None:
    if bundled.missing_files():
        fonts.build(bundled.FONTS_DIR)


def drawn(cast: Cast, **changed: Any) -> tuple[Signature, bytes, str]:
    case = course.ready_to_sign(cast, **changed.pop("plan", {}))
    signature = course.signed(cast, case, **changed)
    assert signature.document is not None
    pdf = archive.read(signature.document.sha256)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())
    return signature, pdf, text


@pytest.mark.usefixtures("fonts_are_made")
def test_the_signed_paper_says_it_all(cast: Cast) -> None:
    signature, pdf, text = drawn(cast, plan={"teeth_left_out": ("11",)})
    for element in wording.shipped()["en"][-1].elements:
        assert f"{element.number}. {element.heading}" in text, element.number
    for words in ("Amara Nwosu, born 17 May 1990", "Cleo Haddad", "6 % hydrogen peroxide as used", "15 minutes",
                  "up to 4 times in a session", "upper right front tooth", "400.00 GBP", "That it looks natural.",
                  "for my own treatment record yes", "on the practice's website or in social media no",
                  "Tue 3 Mar 2026, 09:50", "Europe/London", "Page 1 of"):  # fmt: skip
        assert words in text, words
    assert signature.text.sha256 in text.replace(" ", "")
    assert findings(pdf) == []


@pytest.mark.usefixtures("fonts_are_made")
def test_each_printed_figure_has_its_source_on_the_paper(cast: Cast) -> None:
    _signature, _pdf, text = drawn(cast)
    sources = text[text.index("Where this comes from") :]
    for element in wording.shipped()["en"][-1].elements:
        assert element.source in sources, element.number


@pytest.mark.usefixtures("fonts_are_made")
def test_a_typed_signature_says_so_and_the_paper_can_have_large_letters(cast: Cast) -> None:
    Site.objects.update(country="US")
    signature, pdf, text = drawn(cast, typed=True, large_print=True)
    assert signature.document is not None
    assert signature.document.large_print
    assert "Signed by typing the name, which was declared to be meant as a signature." in text
    assert findings(pdf) == []


@pytest.mark.usefixtures("fonts_are_made")
def test_a_plan_without_resin_speaks_of_no_curing_light(cast: Cast) -> None:
    _signature, _pdf, text = drawn(cast, plan={"isolation": Isolation.RESIN_FREE})
    assert "The gums are covered without resin." in text
    assert "hardened" not in text


def test_the_kept_file_is_where_its_hash_says(signature: Signature) -> None:
    assert signature.document is not None
    assert Path(archive.path_of(signature.document.sha256)).is_file()
