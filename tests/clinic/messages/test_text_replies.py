"""Texts wait where local law wants replies to arrive: until the practice says that they do, another way is taken."""

import pytest
from django.core import mail
from django.urls import reverse
from pytest_django.fixtures import Settings

from clinic.accounts.models import Site
from clinic.accounts.refusals import ChangedMeanwhile
from clinic.accounts.rights import NotAllowed
from clinic.messages import text_replies
from clinic.messages.actions.replies import say_replies
from clinic.messages.conditions import Drop, Send, judge
from clinic.messages.models import Call, DueMessage, ReplyRule, State, TextReplies, Why
from clinic.messages.sweep import sweep
from clinic.patients.models import Channel, Patient
from clinic.trail.models import TrailEntry
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.clinic.messages.writing import CHECK, Planned
from tests.support import nothing_written

NUMBER = "+447700900321"
HELD = "Texts to patients are held back"


@pytest.fixture(autouse=True)
def gateway(settings: Settings) -> None:
    settings.SMS_URL = "json://127.0.0.1:9/{to}"


def wants_texts(cast: Cast, *, email: str = "amara@example.org", country: str = "US") -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(country=country)
    Patient.objects.filter(pk=cast.patient.pk).update(channel=Channel.TEXT, phone="+447700900123", email=email)


def say(cast: Cast, rule: ReplyRule = ReplyRule.BY_COUNTRY, number: str = NUMBER, seen: int = 0) -> TextReplies:
    manager, site = cast.manager, Site.objects.get(pk=cast.fernbrook.pk)
    return say_replies(
        site=site, rule=rule, number=number, seen_version=seen, user=manager, actor=actor_of(manager), now=NOW
    )


def channel_of(message: DueMessage) -> str:
    verdict = judge(DueMessage.objects.get(pk=message.pk), now=NOW)
    return verdict.channel if isinstance(verdict, Send) else ""


@pytest.mark.parametrize(
    ("country", "rule", "number", "channel"),
    [
        ("GB", None, "", "text"),
        ("US", None, "", "email"),
        ("CA", None, "", "email"),
        ("US", ReplyRule.BY_COUNTRY, "", "email"),
        ("US", ReplyRule.BY_COUNTRY, NUMBER, "text"),
        ("US", ReplyRule.NOT_NEEDED, "", "text"),
        ("GB", ReplyRule.NEEDED, "", "email"),
        ("GB", ReplyRule.NEEDED, NUMBER, "text"),
    ],
)
def test_it_works(
    planned: Planned, cast: Cast, country: str, rule: ReplyRule | None, number: str, channel: str
) -> None:
    message = planned()
    wants_texts(cast, country=country)
    if rule is not None:
        say(cast, rule, number)
    assert channel_of(message) == channel


def test_a_mail_takes_its_place(planned: Planned, cast: Cast) -> None:
    message = planned()
    wants_texts(cast)
    sweep(now=NOW)
    message.refresh_from_db()
    assert (message.state, message.channel) == (State.HANDED_OVER, Channel.EMAIL)
    assert [sent.to for sent in mail.outbox] == [["amara@example.org"]]


def test_without_an_address_somebody_calls_and_reads_why(planned: Planned, cast: Cast) -> None:
    message = planned(CHECK)
    wants_texts(cast, email="")
    verdict = judge(DueMessage.objects.get(pk=message.pk), now=NOW)
    assert isinstance(verdict, Drop)
    assert (verdict.why, verdict.reason) == (Why.NO_CHANNEL, "texts are held back at this site")
    sweep(now=NOW)
    assert Call.objects.get().message == message


def test_the_number_taken_away_holds_them_back_again(planned: Planned, cast: Cast) -> None:
    message = planned()
    wants_texts(cast)
    say(cast)
    assert channel_of(message) == "text"
    say(cast, number="", seen=1)
    assert channel_of(message) == "email"


def test_every_country_names_its_source() -> None:
    rules = text_replies.country_rules()
    assert set(rules) == {"CA", "US"}
    assert {rule.quality for rule in rules.values()} == {"from memory, unverified"}


class TestSaying:
    def test_it_is_recorded(self, cast: Cast) -> None:
        say(cast)
        assert TextReplies.objects.get().said_by == cast.manager.name
        assert TrailEntry.objects.get(verb="messages.replies_said").site_id == cast.fernbrook.pk

    def test_somebody_else_was_faster(self, cast: Cast) -> None:
        say(cast)
        with nothing_written(), pytest.raises(ChangedMeanwhile):
            say(cast, number="")

    def test_wrong_role(self, cast: Cast) -> None:
        desk = cast.desk
        with nothing_written(), pytest.raises(NotAllowed):
            say_replies(
                site=cast.fernbrook,
                rule=ReplyRule.NEEDED,
                number=NUMBER,
                seen_version=0,
                user=desk,
                actor=actor_of(desk),
                now=NOW,
            )


class TestSetUp:
    def test_it_says_why_until_a_number_stands(self, cast: Cast) -> None:
        wants_texts(cast)
        manager, address = sign_in(cast.manager), reverse("text_replies", args=[cast.fernbrook.pk])
        assert HELD in manager.get(reverse("setup")).content.decode()
        page = manager.get(address).content.decode()
        assert "from memory, unverified" in page
        assert "are held back" in page
        typed = {"rule": "by_country", "number": "+44 7700 900321", "seen_version": "0"}
        assert manager.post(address, typed).status_code == 302
        assert HELD not in manager.get(reverse("setup")).content.decode()
        assert "go out" in manager.get(address).content.decode()

    def test_without_a_gateway_nothing_is_missing(self, cast: Cast, settings: Settings) -> None:
        wants_texts(cast)
        settings.SMS_URL = ""
        assert HELD not in sign_in(cast.manager).get(reverse("setup")).content.decode()

    @pytest.mark.parametrize(
        ("typed", "status", "sentence"),
        [
            ({"number": "12"}, 422, "That is not a telephone number."),
            ({"rule": "perhaps"}, 422, "Does local law want"),
            ({"seen_version": "4"}, 409, "Somebody else"),
        ],
    )
    def test_what_was_sent_is_wrong(self, cast: Cast, typed: dict[str, str], status: int, sentence: str) -> None:
        client, address = sign_in(cast.manager), reverse("text_replies", args=[cast.fernbrook.pk])
        sent = {"rule": "needed", "number": "+44 7700 900321", "seen_version": "0"} | typed
        with nothing_written():
            answer = client.post(address, sent)
        assert answer.status_code == status
        assert sentence in answer.content.decode()

    def test_the_patients_page_says_it(self, cast: Cast) -> None:
        wants_texts(cast)
        page = reverse("patient", args=[cast.patient.pk])
        assert "Texts are held back at this site" in sign_in(cast.desk).get(page).content.decode()
        say(cast)
        assert "Texts are held back at this site" not in sign_in(cast.desk).get(page).content.decode()
