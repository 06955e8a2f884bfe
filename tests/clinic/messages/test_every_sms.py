"""Each kind in the words of the program: what texts and subjects name, how long they are, and nothing is escaped."""

import pytest
from django.conf import settings as installed
from django.db.models import Model
from django.utils import timezone
from pytest_django import Settings

from clinic.accounts.languages import speaking
from clinic.accounts.models import Practice, Site
from clinic.messages import kinds
from clinic.messages.kinds import Kind
from clinic.messages.letters import one_line, write
from clinic.messages.wordings.faults import faults_of, fill
from clinic.messages.wordings.given import LINK, NUMBER, PRACTICE
from clinic.messages.wordings.lengths import SEVEN_BITS, length_of
from clinic.messages.wordings.saying import own_words_of, program_words
from clinic.messages.wordings.showing import editable_kinds, fixed_kinds
from clinic.messages.wordings.slots import Part
from clinic.messages.words import clinical_words
from tests.cast import Cast

# Whatever else speaks to a patient may be worded by the practice.
FIXED = {"code", "on_call_alert", "raised_again"}
WITHOUT_LINK = {"visit_pencilled", "visit_cancelled", "visit_lapsed", "visit_two_days_before"}
# Nothing is agreed yet, or it is about no visit.
WITHOUT_DATE = {
    "visit_pick",
    "new_link",
    "aftercare",
    "two_day_check",
    "review_invitation",
    "review_reminder",
    "result_ready",
    "check_recall",
    "colour_reminder",
}


def ours() -> list[Kind[Model]]:
    return [kind for kind in editable_kinds() if not kind.code.startswith("test_")]


def test_who_may_word_what() -> None:
    assert {kind.code for kind in fixed_kinds() if not kind.code.startswith("test_")} == FIXED
    assert {kind.code for kind in ours()} >= WITHOUT_DATE | WITHOUT_LINK | {"visit_page", "waitlist_offer"}


def test_every_text_names_practice_number_link_and_date(cast: Cast) -> None:
    for kind in ours():
        sms = program_words(kind).sms
        for slot in (PRACTICE, NUMBER):
            assert sms.count(slot.braces) == 1, kind.code
        assert sms.count(LINK.braces) == int(kind.link is not None) == int(kind.code not in WITHOUT_LINK), kind.code
        assert sms.count("{date}") == int(kind.code not in WITHOUT_DATE), kind.code


@pytest.mark.parametrize("language", [code for code, _name in installed.LANGUAGES])
def test_the_programs_words_pass_the_practices_check(cast: Cast, language: str) -> None:
    """They are what somebody begins with, so they must be right by the same rules."""
    for kind in ours():
        with speaking(language):
            own, letter = own_words_of(kind), program_words(kind)
            examples = [own.examples(cast.fernbrook)]
        for part, text in ((Part.SUBJECT, letter.subject), (Part.TEXT, letter.text), (Part.SMS, letter.sms)):
            names = [cast.fernbrook.name]
            assert faults_of(own, part, text, language=language, names=names, examples=examples) == [], kind.code


@pytest.mark.parametrize("language", [code for code, _name in installed.LANGUAGES])
def test_how_many_parts_they_take(cast: Cast, settings: Settings, language: str) -> None:
    """With a private link as long as they come, at a site whose name is long as well."""
    settings.PUBLIC_URL = "https://casebook.fernbrook-dental-rooms.example.org"
    cast.fernbrook.name = "Fernbrook Dental Rooms at the Old Mill"
    for kind in ours():
        with speaking(language), timezone.override(cast.fernbrook.zone):
            sms = one_line(fill(program_words(kind).sms, own_words_of(kind).examples(cast.fernbrook)))
        assert 1 <= length_of(sms).parts <= 2, f"{kind.code}: {sms}"
        assert clinical_words(sms, language, except_for=[cast.fernbrook.name]) == [], kind.code


def test_a_long_name_stays_whole(cast: Cast) -> None:
    """A part of it is no name on a sign any more: what stands in it would read as clinical, and cost a 16-bit text."""
    name = "Fernbrook Rooms for Teeth and Gums in the Old Mill at Alder Bridge, near the Whiting Weir"
    Practice.objects.update(name=name)
    site = Site.objects.select_related("practice").get(pk=cast.fernbrook.pk)
    facts = {"site": site, "code": "123456", "minutes": 10}
    new_link = own_words_of(kinds.get("new_link")).examples(site)
    for code, context in (("code", facts), ("new_link", new_link)):
        sms = write(kinds.get(code).wording, context).sms
        assert name in sms, code
        assert clinical_words(sms, "en", except_for=[name]) == [], code
        assert (length_of(sms).alphabet, length_of(sms).is_too_long) == (SEVEN_BITS, False), code


def test_a_name_with_signs_stays_as_it_is_written(cast: Cast) -> None:
    """Subjects and texts are no HTML."""
    name = "Fern & Brook’s <Rooms>"
    Practice.objects.update(name=name)
    Site.objects.update(name=name)
    site = Site.objects.select_related("practice").get(pk=cast.fernbrook.pk)
    for kind in ours():
        own = own_words_of(kind)
        letter = write(kind.wording, {**own.usually, **own.examples(site)})
        assert name in letter.subject, kind.code
        assert name in letter.sms, kind.code
    for code in FIXED:
        folder = kinds.get(code).wording
        facts = {"code": "1", "minutes": 10, "due_at": timezone.now(), "said_at": timezone.now()}
        letter = write(folder, {"site": site, **facts})
        assert name in letter.subject + letter.sms, code
