"""The day's re-ask, what is decided about it, and asking at the practice what is still open."""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from tests.answer import Answer
from tests.cast import NOW, Cast, actor_of, sign_in
from tests.support import nothing_written
from tests.whitening import course
from tests.whitening.chairside import chairs
from tests.whitening.screening.someone import ALL_WELL
from whitening.cases.models import Case
from whitening.screening.actions import answer_here, ask_again
from whitening.screening.actions.asking import NotOpen
from whitening.screening.models import AnswerSet, Reask, ReaskDecision, Source
from whitening.screening.reading import answers_of, asked_again_on, newest_reask, outcome_of, waiting_in
from whitening.screening.reask import reask_items

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_now")]


@pytest.fixture
def case(cast: Cast) -> Case:
    case = chairs.a_case(cast)
    course.answered(cast, case)
    return case


@pytest.fixture
def nurse(cast: Cast) -> Client:
    return sign_in(cast.assistant)


def items(case: Case) -> list[str]:
    answers = answers_of(case)
    assert answers is not None
    return [item.id for item in reask_items(answers)]


def usual(case: Case) -> dict[str, str]:
    answers = answers_of(case)
    assert answers is not None
    return {item.id: item.usual for item in reask_items(answers)}


def send(client: Client, case: Case, *, leave_out: str = "", shown: list[str] | None = None, **changed: str) -> Answer:
    replies = {name: reply for name, reply in (usual(case) | changed).items() if name != leave_out}
    seen = items(case) if shown is None else shown
    return client.post(reverse("reask", args=[case.pk]), {"shown": seen, **replies})


def test_it_works(cast: Cast, case: Case, nurse: Client) -> None:
    answer = nurse.post(reverse("reask", args=[case.pk]), {"shown": items(case), "as_before": "1"})
    assert answer["Location"] == reverse("case", args=[case.pk])
    row = Reask.objects.get()
    assert (row.asked_by, row.asked_on, row.asked_at, row.changed) == ("Ari Zieliński", date(2026, 3, 3), NOW, [])
    assert row.shown == items(case)
    assert asked_again_on(case) == date(2026, 3, 3)
    newest = AnswerSet.objects.order_by("-pk")[0]
    assert (newest.source, course.given(newest)) == ("chair", ALL_WELL)


def test_asking_once_more_decides_nothing(cast: Cast, case: Case, nurse: Client) -> None:
    """Who was ill an hour ago was ill: "all as before" afterwards is no way round the clinician."""
    send(nurse, case, illness="yes")
    answer = nurse.post(reverse("reask", args=[case.pk]), {"shown": items(case), "as_before": "1"}, follow=True)
    assert "A clinician looks at the findings before it goes on." in answer.content.decode()
    newest = newest_reask(case)
    assert newest is not None
    assert (newest.replies["illness"], [item.id for item in waiting_in(newest)]) == ("no", ["illness"])
    assert asked_again_on(case) is None
    reason = {"reason": "A cold, over for a week."}
    assert sign_in(cast.clinician).post(reverse("reask_decision", args=[case.pk]), reason).status_code == 302
    assert asked_again_on(case) == date(2026, 3, 3)


def test_a_no_to_going_ahead_is_the_patients_to_take_back(case: Case, nurse: Client) -> None:
    send(nurse, case, go_ahead="no")
    assert asked_again_on(case) is None
    send(nurse, case)
    assert asked_again_on(case) == date(2026, 3, 3)


@pytest.mark.parametrize("who", ["desk", "manager"])
def test_wrong_role(cast: Cast, case: Case, who: str) -> None:
    client = sign_in(getattr(cast, who))
    with nothing_written():
        assert send(client, case).status_code == 403


def test_other_site(cast: Cast, case: Case) -> None:
    client = sign_in(cast.elsewhere)
    with nothing_written():
        assert send(client, case).status_code == 404
        assert client.get(reverse("ask", args=[case.pk])).status_code == 404


def test_wrong_method(case: Case, nurse: Client) -> None:
    with nothing_written():
        assert nurse.put(reverse("reask", args=[case.pk])).status_code == 405


def test_as_before_only_after_each_was_shown(case: Case, nurse: Client) -> None:
    with nothing_written():
        refused = nurse.post(reverse("reask", args=[case.pk]), {"shown": items(case)[1:], "as_before": "1"})
    assert refused.status_code == 422
    text = refused.content.decode()
    assert "Show or read out every item first." in text
    # What was shown stays ticked, the rest does not.
    assert text.count("data-shown checked") == len(items(case)) - 1


def test_the_page_ticks_nothing_by_itself_and_names_who_asks(case: Case, nurse: Client) -> None:
    text = nurse.get(reverse("reask", args=[case.pk])).content.decode()
    assert " checked" not in text
    assert "Asked by Ari Zieliński." in text
    with nothing_written():
        assert nurse.post(reverse("reask", args=[case.pk]), {"as_before": "1"}).status_code == 422


def test_as_before_sweeps_no_ticked_reply_away(case: Case, nurse: Client) -> None:
    fields = {"shown": items(case), "as_before": "1", "cold_sore": "yes"}
    nurse.post(reverse("reask", args=[case.pk]), fields)
    assert Reask.objects.get().changed == ["cold_sore"]
    assert outcome_of(case, today=NOW.date()).finding("HSV-01") is not None


def test_no_reply_is_never_the_usual_one(case: Case, nurse: Client) -> None:
    with nothing_written():
        assert send(nurse, case, leave_out="illness").status_code == 422
        assert send(nurse, case, illness="perhaps").status_code == 422


def test_what_is_not_on_the_list_is_not_kept(case: Case, nurse: Client) -> None:
    send(nurse, case, shown=[*items(case), "invented", "\x00"], invented="yes")
    row = Reask.objects.get()
    assert row.shown == items(case)
    assert set(row.replies) == set(items(case))


def test_a_change_with_a_rule_fires_it(case: Case, nurse: Client) -> None:
    send(nurse, case, cold_sore="yes")
    assert outcome_of(case, today=NOW.date()).finding("HSV-01") is not None
    # It stands among the findings: the re-ask itself is done.
    assert asked_again_on(case) == date(2026, 3, 3)


def test_illness_waits_for_a_clinician(cast: Cast, case: Case, nurse: Client) -> None:
    send(nurse, case, illness="yes")
    assert asked_again_on(case) is None
    dentist = sign_in(cast.clinician)
    assert (
        "Have you been ill since you answered?" in dentist.get(reverse("assessment", args=[case.pk])).content.decode()
    )
    address = reverse("reask_decision", args=[case.pk])
    with nothing_written():
        assert nurse.post(address, {"reason": "a cold"}).status_code == 403
        assert dentist.post(address, {"reason": " "}).status_code == 422
        assert dentist.post(address, {"reason": "x" * 1001}).status_code == 422
    assert dentist.post(address, {"reason": "A cold last week, well again."}).status_code == 302
    row = ReaskDecision.objects.get()
    assert (row.reason, row.decided_by, row.decided_at) == ("A cold last week, well again.", cast.clinician, NOW)
    assert asked_again_on(case) == date(2026, 3, 3)
    with nothing_written():
        assert dentist.post(address, {"reason": "again"}).status_code == 409


@pytest.mark.usefixtures("quick_paper")
def test_not_going_ahead_is_offered_as_withdrawal(cast: Cast, nurse: Client) -> None:
    case = course.ready_to_sign(cast)
    course.signed(cast, case)
    answer = send(nurse, case, go_ahead="no")
    assert answer["Location"] == reverse("reask", args=[case.pk])
    page = nurse.get(answer["Location"]).content.decode()
    assert "The patient does not want to go ahead" in page
    assert f'action="{reverse("consent_withdraw", args=[case.pk])}"' in page
    assert asked_again_on(case) is None
    # No clinician decides that away.
    dentist = sign_in(cast.clinician)
    with nothing_written():
        assert dentist.post(reverse("reask_decision", args=[case.pk]), {"reason": "she will"}).status_code == 409
    nurse.post(reverse("consent_withdraw", args=[case.pk]), {"words": "Said on the day."})
    assert case.signatures.get().withdrawal.withdrawn_by == "Ari Zieliński"


def test_asked_again_with_yes_opens_it(case: Case, nurse: Client) -> None:
    send(nurse, case, go_ahead="no")
    send(nurse, case)
    assert asked_again_on(case) == date(2026, 3, 3)
    newest = newest_reask(case)
    assert newest is not None
    assert waiting_in(newest) == ()


def test_the_re_ask_makes_old_answers_no_younger(cast: Cast) -> None:
    """The list of the day is not the whole questionnaire."""
    case = chairs.a_case(cast)
    course.answered(cast, case, now=NOW - timedelta(days=40))
    ask_again(
        case=case, shown=items(case), replies=usual(case), user=cast.assistant, actor=actor_of(cast.assistant), now=NOW
    )
    assert AnswerSet.objects.order_by("-pk")[0].given_on == date(2026, 1, 22)


def test_nothing_to_ask_again_yet(cast: Cast, nurse: Client) -> None:
    case = chairs.a_case(cast)
    with nothing_written():
        refused = nurse.post(reverse("reask", args=[case.pk]), {"as_before": "1"})
    assert refused.status_code == 422
    assert "There are no answers to go through yet." in refused.content.decode()


def test_a_new_medicine_is_asked_at_the_chair(case: Case, nurse: Client) -> None:
    send(nurse, case, new_medicine="yes")
    address = reverse("ask", args=[case.pk])
    page = nurse.get(address).content.decode()
    assert "2 questions have no answer yet." in page
    with nothing_written():
        assert nurse.post(address, {"source": "chair"}).status_code == 409
        assert nurse.post(address, {"source": "chair", "medicines": "x" * 121}).status_code == 422
        assert nurse.post(address, {"source": "nobody", "medicines": "none"}).status_code == 422
    both = {"medicines": "amoxicillin\nibuprofen", "light_medicines": "none"}
    assert nurse.post(address, {"source": "chair", **both}).status_code == 302
    newest = AnswerSet.objects.order_by("-pk")[0]
    assert course.given(newest) == ALL_WELL | {"medicines": ("amoxicillin", "ibuprofen")}


def test_in_private_is_for_the_clinician(cast: Cast, nurse: Client) -> None:
    case = chairs.a_case(cast)
    course.answered(cast, case, pregnancy_may_apply="in_private")
    address = reverse("ask", args=[case.pk])
    page = nurse.get(address).content.decode()
    assert "5 more are asked by a clinician, face to face." in page
    assert "pregnancy" not in page
    dentist = sign_in(cast.clinician)
    page = dentist.get(address).content.decode()
    assert "Could pregnancy or breastfeeding be a matter for you?" in page
    assert "I would rather talk about it at the practice" not in page
    # What follows from a yes is asked next.
    assert dentist.post(address, {"source": "chair", "pregnancy_may_apply": "yes"})["Location"] == address
    assert dentist.post(address, {"source": "chair", "pregnant": "no", "breastfeeding": "no"}).status_code == 302
    result = outcome_of(case, today=NOW.date())
    known = {one.rule.code for one in result.findings} | {one.rule.code for one in result.unanswered}
    assert not {"PRG-01", "PRG-02"} & known
    assert course.given(AnswerSet.objects.order_by("pk")[0])["pregnancy_may_apply"] == "in_private"


def test_from_paper_without_any_answer_before(cast: Cast, nurse: Client) -> None:
    case = chairs.a_case(cast)
    address = reverse("ask", args=[case.pk])
    page = nurse.get(address).content.decode()
    assert " checked" not in page
    fields = {name: "\n".join(course.raw(value)) for name, value in ALL_WELL.items()}
    assert nurse.post(address, {"source": "paper", **fields}).status_code == 302
    row = AnswerSet.objects.get()
    assert (row.source, row.handed_in_by, course.given(row)) == ("paper", "Ari Zieliński", ALL_WELL)


def test_an_answer_of_the_patient_is_not_written_over(cast: Cast, case: Case) -> None:
    with nothing_written(), pytest.raises(NotOpen):
        answer_here(
            case=case,
            values={"reacted_to_peroxide": "yes"},
            source=Source.CHAIR,
            user=cast.assistant,
            actor=actor_of(cast.assistant),
            now=NOW,
        )
