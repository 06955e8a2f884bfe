"""What other tests lean on holds: the cast stands, and `nothing_written` notices a row, a change, a file, a mail."""

from pathlib import Path

import pytest
from django.conf import settings
from django.core import mail

from clinic.accounts.models import Site
from tests.cast import Cast
from tests.support import nothing_written, our_tables


def test_the_cast_stands(cast: Cast) -> None:
    assert cast.patient.site == cast.fernbrook
    assert cast.stranger.site == cast.alderton
    assert cast.teenager.birth_on.year == 2008


def test_the_trail_is_among_the_watched_tables() -> None:
    assert {"trail_entry", "trail_seal", "due_message", "resource_claim"} <= set(our_tables())


def test_nothing_is_nothing(cast: Cast) -> None:
    with nothing_written():
        list(Site.objects.all())


def test_a_changed_row_is_noticed(cast: Cast) -> None:
    with (
        pytest.raises(AssertionError, match="written although refused: clinic_accounts_site 2 → 2 rows"),
        nothing_written(),
    ):
        Site.objects.filter(pk=cast.alderton.pk).update(name="Quay")


def test_a_new_row_is_noticed(cast: Cast) -> None:
    with pytest.raises(AssertionError, match="clinic_patients_patient 0 → 1 rows"), nothing_written():
        _ = cast.patient


def test_a_kept_file_is_noticed(cast: Cast) -> None:
    kept = Path(settings.FILES_DIR) / "kept"
    with pytest.raises(AssertionError, match="a file was kept"), nothing_written():
        kept.write_text("x")
    kept.unlink()


def test_a_mail_is_noticed(cast: Cast) -> None:
    with pytest.raises(AssertionError, match="a mail was sent"), nothing_written():
        mail.send_mail("Hello", "Text", None, ["amara@example.org"])
