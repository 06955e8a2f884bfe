"""A language is spoken when its whole catalogue is installed; otherwise everything is English, left to right."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext

from clinic.accounts import languages
from clinic.accounts.languages import Sentence, is_spoken, sentences, speaking, spoken
from tests.cast import Cast, sign_in
from tests.catalogues import PREFERENCES, Catalogues
from tests.support import nothing_written


def test_it_works(catalogues: Catalogues) -> None:
    catalogues.install("de", "ar")
    assert languages.complete() == {"en", "de", "ar"}
    with speaking("ar"):
        assert gettext(PREFERENCES) == "كيف نكتب إليك"
        assert translation.get_language_bidi()
    assert [spoken(code) for code in ("de-AT", "DE", "en", "es", "pl", "", None)] == ["de", "de"] + 5 * ["en"]
    assert [is_spoken(code) for code in ("de-AT", "en", "en-gb", "es")] == [True, True, True, False]


def test_without_a_catalogue_there_is_english_only() -> None:
    """As this program is now: nobody has translated it yet."""
    assert languages.complete() == {"en"}
    with speaking("ar"):
        assert (translation.get_language(), translation.get_language_bidi()) == ("en", False)


@pytest.mark.parametrize("fuzzy", [False, True])
def test_one_missing_sentence_makes_it_incomplete(catalogues: Catalogues, fuzzy: bool) -> None:
    catalogues.install("de", "ar", unfinished="ar", fuzzy=fuzzy)
    assert languages.complete() == {"en", "de"}


@pytest.mark.parametrize(
    "lost", ["django.pot", "ar/LC_MESSAGES/django.mo"], ids=["nobody knows what belongs there", "not compiled"]
)
def test_a_lost_file_makes_it_incomplete(catalogues: Catalogues, lost: str) -> None:
    catalogues.install("ar")
    (catalogues.folder / lost).unlink()
    assert languages.complete() == {"en"}


@pytest.mark.parametrize(
    "more",
    [
        'msgid "new"\nmsgstr ""',
        'msgid "%(n)d new"\nmsgid_plural "%(n)d newer"\nmsgstr[0] ""\nmsgstr[1] ""',
        'msgctxt "elsewhere"\nmsgid "Monday"\nmsgstr ""',
        'msgctxt "elsewhere"\nmsgid "%(n)d new"\nmsgid_plural "%(n)d newer"\nmsgstr[0] ""\nmsgstr[1] ""',
    ],
    ids=["plain", "plural", "context", "both"],
)
def test_a_sentence_that_came_later_makes_it_incomplete(catalogues: Catalogues, more: str) -> None:
    catalogues.install("de")
    template = catalogues.folder / "django.pot"
    template.write_text(f"{template.read_text()}\n\n#: a.py\n{more}\n")
    assert languages.complete() == {"en"}


def test_a_template_is_read_as_gettext_writes_it() -> None:
    written = (
        'msgid ""\nmsgstr ""\n"Language: \\n"\n\n#. a hint\n#: a.html\nmsgid ""\n"Say \\"%(a)s\\"\\n"\n'
        '"twice"\nmsgstr ""\n\nmsgctxt "c"\nmsgid "one"\nmsgid_plural "more"\nmsgstr[0] ""\nmsgstr[1] ""\n'
    )
    assert list(sentences(written)) == [Sentence('Say "%(a)s"\ntwice'), Sentence("one", "more", "c")]


def test_a_browser_is_answered_in_a_language_that_is_whole(catalogues: Catalogues, db: None) -> None:
    def page(wanted: str) -> str:
        return Client(headers={"Accept-Language": wanted}).get(reverse("account_login")).content.decode()

    catalogues.install("de", "ar", unfinished="ar")
    assert '<html lang="de" dir="ltr"' in page("de")
    assert '<html lang="en" dir="ltr"' in page("ar")
    assert '<html lang="en" dir="ltr"' in page("es")


def test_staff_choose_among_the_spoken_ones(catalogues: Catalogues, cast: Cast) -> None:
    client = sign_in(cast.desk)
    with nothing_written():
        refused = client.post(reverse("language"), {"language": "ar"})
    assert refused.status_code == 422
    catalogues.install("ar")
    assert languages.choices() == [("en", "English"), ("ar", "Arabic")]
    assert client.post(reverse("language"), {"language": "ar"}).status_code == 302
    assert '<html lang="ar" dir="rtl"' in client.get(reverse("patients")).content.decode()


def test_what_was_chosen_earlier_is_kept_and_not_shown_half(cast: Cast) -> None:
    cast.desk.language = "ar"
    cast.desk.save()
    assert '<html lang="en" dir="ltr"' in sign_in(cast.desk).get(reverse("patients")).content.decode()
    cast.desk.refresh_from_db()
    assert cast.desk.language == "ar"
