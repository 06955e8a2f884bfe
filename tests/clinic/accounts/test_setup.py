"""The Set-up list, the sites with their numbers, and a form that somebody else overtook."""

from dataclasses import replace

import pytest
from django.test import Client
from django.urls import reverse

from clinic.accounts import setup_pages
from clinic.accounts.actions.rota import MayNotAnswer
from clinic.accounts.actions.sites import change_site, details_of
from clinic.accounts.middleware import site_of
from clinic.accounts.models import Membership, Role, Site
from clinic.accounts.setup_pages import SetupPage
from clinic.trail.models import TrailEntry
from tests.answer import Answer
from tests.cast import Cast, sign_in
from tests.support import nothing_written


def typed(site: Site, **changes: object) -> dict[str, object]:
    """The site's form as the browser would send it back."""
    site.refresh_from_db()
    values = vars_of(site) | {"on_call": site.on_call_id or "", "seen_version": site.version}
    return values | changes


def vars_of(site: Site) -> dict[str, object]:
    details = details_of(site)
    return {name: getattr(details, name) for name in details.__dataclass_fields__ if name != "on_call_id"}


def save(client: Client, site: Site, **changes: object) -> Answer:
    return client.post(reverse("site", kwargs={"pk": site.pk}), typed(site, **changes))


def test_it_works(cast: Cast) -> None:
    client = sign_in(cast.manager)
    answer = save(client, cast.fernbrook, out_of_hours_number="+44 20 7946 0198", on_call=cast.hygienist.pk)
    assert answer.headers["Location"] == reverse("setup")
    held = Site.objects.get(pk=cast.fernbrook.pk)
    assert (held.out_of_hours_number, held.on_call, held.version) == ("+44 20 7946 0198", cast.hygienist, 2)
    entry = TrailEntry.objects.latest("pk")
    assert (entry.verb, entry.fields) == ("accounts.site_changed", "on_call_id out_of_hours_number")


def test_a_site_in_a_story_has_a_number_kept_free_for_stories(cast: Cast) -> None:
    """Ofcom keeps 01632 960000 to 960999 for drama; stored in full, however it was typed."""
    client = sign_in(cast.manager)
    assert save(client, cast.fernbrook, phone="+44 (0)1632 960-123").status_code == 302
    assert Site.objects.values_list("phone", flat=True).get(pk=cast.fernbrook.pk) == "+441632960123"


def test_what_a_patients_link_does_with_short_notice(cast: Cast) -> None:
    client, rows = sign_in(cast.manager), Site.objects.filter(pk=cast.fernbrook.pk)
    # Better known of late than not at all: what a practice starts with.
    assert rows.values_list("short_notice", flat=True).get() == "accept"
    save(client, cast.fernbrook, short_notice="call")
    assert rows.values_list("short_notice", flat=True).get() == "call"
    with nothing_written():
        assert save(client, cast.fernbrook, short_notice="ring").status_code == 422


def test_wrong_role(cast: Cast) -> None:
    client = sign_in(cast.clinician)
    with nothing_written():
        assert save(client, cast.fernbrook, name="Elsewhere").status_code == 403


def test_other_site(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert save(client, cast.alderton, name="Mine now").status_code == 404


def test_a_member_who_is_no_manager_there(cast: Cast) -> None:
    Membership.objects.create(user=cast.manager, site=cast.alderton, role=Role.DESK)
    client = sign_in(cast.manager)
    client.post(reverse("switch_site"), {"site": cast.fernbrook.pk})
    with nothing_written():
        assert save(client, cast.alderton, name="Mine now").status_code == 403


def test_wrong_method(cast: Cast) -> None:
    assert sign_in(cast.manager).delete(reverse("site", kwargs={"pk": cast.fernbrook.pk})).status_code == 405


def test_a_stale_form_shows_both_versions(cast: Cast) -> None:
    client = sign_in(cast.manager)
    opened = typed(cast.fernbrook, poison_number="222")
    save(client, cast.fernbrook, poison_number="333")
    address = reverse("site", kwargs={"pk": cast.fernbrook.pk})
    with nothing_written():
        answer = client.post(address, opened)
    assert answer.status_code == 409
    assert answer.context["theirs"] == [("Poison advice number", "333", "222")]
    assert "Somebody else changed this" in answer.content.decode()
    again = opened | {"seen_version": answer.context["form"].data["seen_version"]}
    assert client.post(address, again).status_code == 302
    assert Site.objects.get(pk=cast.fernbrook.pk).poison_number == "222"


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"jurisdiction": ""}, "Choose whose rules hold here."),
        ({"jurisdiction": "Atlantis"}, "Choose one from the list"),
        ({"timezone": "Europe/Fernbrook"}, "is not a time zone"),
        ({"country": "gb"}, "two capital letters"),
        ({"currency": "£"}, "Three capital letters"),
        ({"phone": "12"}, "Begin with + and the country code."),
        ({"emergency_number": "call me"}, "Digits, as they are dialled there."),
        ({"name": ""}, "Fill this in."),
        ({"name": "x" * 300}, "This is too long"),
        ({"name": "a\x00b"}, "character in it that cannot be kept"),
        ({"on_call": "999999"}, "Choose one from the list"),
    ],
)
def test_bad_input(cast: Cast, change: dict[str, object], sentence: str) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        answer = save(client, cast.fernbrook, **change)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_nobody_of_another_site_is_on_call(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        assert save(client, cast.fernbrook, on_call=cast.elsewhere.pk).status_code == 422


def test_the_list_says_what_is_missing(cast: Cast) -> None:
    client = sign_in(cast.manager)
    Site.objects.filter(pk=cast.fernbrook.pk).update(poison_number="", on_call=None, jurisdiction="")
    page = client.get(reverse("setup")).content.decode()
    assert "Choose whose rules hold here. Until then no treatment can be planned." in page
    assert "The poison advice number is missing. Until then no link goes to a patient." in page
    assert "Nobody is on call." in page
    assert "The emergency number is missing" not in page


def test_a_site_without_its_own_telephone_sends_no_links(cast: Cast) -> None:
    """ "Call us now" needs a number: in opening hours it is this one."""
    cast.fernbrook.phone = ""
    cast.fernbrook.save()
    assert not cast.fernbrook.can_send_links
    client = sign_in(cast.manager)
    page = client.get(reverse("setup")).content.decode()
    assert "The practice’s own telephone number is missing. Until then no link goes to a patient." in page
    assert "until the practice’s telephone" in client.get(reverse("site", args=[cast.fernbrook.pk])).content.decode()


def test_the_list_says_that_nothing_is_missing(cast: Cast) -> None:
    own = {
        page.code: page.missing(cast.fernbrook) for page in setup_pages.registered() if page.code in {"site", "people"}
    }
    assert own == {"site": [], "people": []}


def test_the_list_names_missing_people(cast: Cast) -> None:
    Membership.objects.filter(role=Role.CLINICIAN).delete()
    page = sign_in(cast.manager).get(reverse("setup")).content.decode()
    assert "Nobody may examine and decide here." in page


def test_two_pages_of_one_code_are_a_slip() -> None:
    with pytest.raises(ValueError, match="twice"):
        setup_pages.register(SetupPage(code="people", title="Again", url_name="people", missing=lambda _site: ()))


def test_another_site(cast: Cast) -> None:
    client = sign_in(cast.manager)
    values = vars_of(cast.fernbrook) | {"name": "Millbrook", "slug": "millbrook"}
    assert client.post(reverse("site_new"), values).status_code == 302
    site = Site.objects.get(slug="millbrook")
    assert (site.practice, site.on_call) == (cast.practice, None)
    assert Membership.objects.get(site=site).user == cast.manager


def test_a_short_name_is_taken_once(cast: Cast) -> None:
    client = sign_in(cast.manager)
    with nothing_written():
        answer = client.post(reverse("site_new"), vars_of(cast.fernbrook) | {"slug": "Fernbrook"})
    assert answer.status_code == 422
    assert "Another site has this short name." in answer.content.decode()


def site_shown(client: Client) -> Site | None:
    return site_of(client.get(reverse("own_account")).wsgi_request)


def test_switching_the_site(cast: Cast) -> None:
    Membership.objects.create(user=cast.desk, site=cast.alderton, role=Role.DESK)
    client = sign_in(cast.desk)
    assert site_shown(client) == cast.alderton
    client.post(reverse("switch_site"), {"site": cast.fernbrook.pk})
    assert site_shown(client) == cast.fernbrook


@pytest.mark.parametrize("chosen", ["", "0", "x", "٠"])
def test_no_such_site(cast: Cast, chosen: str) -> None:
    assert sign_in(cast.desk).post(reverse("switch_site"), {"site": chosen}).status_code == 404


def test_elsewhere_is_no_choice(cast: Cast) -> None:
    assert sign_in(cast.desk).post(reverse("switch_site"), {"site": cast.alderton.pk}).status_code == 404


def test_only_who_may_read_the_answers_is_offered_as_the_person_on_call(cast: Cast) -> None:
    client, where = sign_in(cast.manager), reverse("site", args=[cast.fernbrook.pk])
    offered = client.get(where).context["form"].fields["on_call"].queryset
    assert set(offered) == {cast.assistant, cast.clinician, cast.hygienist}
    with nothing_written():
        assert save(client, cast.fernbrook, on_call=cast.desk.pk).status_code == 422
    with nothing_written(), pytest.raises(MayNotAnswer):
        change_site(
            site=cast.fernbrook,
            details=replace(details_of(cast.fernbrook), on_call_id=cast.desk.pk),
            seen_version=cast.fernbrook.version,
            user=cast.manager,
            actor=cast.manager.actor,
        )


def test_one_who_counts_no_more_stays_to_be_seen_with_a_word(cast: Cast) -> None:
    Site.objects.filter(pk=cast.fernbrook.pk).update(on_call=cast.desk)
    client, where = sign_in(cast.manager), reverse("site", args=[cast.fernbrook.pk])
    page = client.get(where)
    assert cast.desk in page.context["form"].fields["on_call"].queryset
    assert "Dana Popescu does not count" in page.content.decode()
    # And keeps nothing else from being saved.
    cast.fernbrook.refresh_from_db()
    assert save(client, cast.fernbrook, address="2 Fernbrook Street").status_code == 302
    assert Site.objects.get(pk=cast.fernbrook.pk).address == "2 Fernbrook Street"
