from datetime import UTC, datetime

from clinic.accounts.models import Invitation, OnCallTurn, Role
from tests.cast import NOW, Cast
from tests.permissions.row import EVERYBODY, FINE, MANAGERS, Row, form, open_to_all, page, press

ASK = ("GET", "POST")
# Who has no codes yet finds no page of codes.
OR_NONE_YET = FINE | {404}


def reset_link(_cast: Cast) -> dict[str, object]:
    return {"uidb36": "1", "key": "abc-def"}


def a_token(_cast: Cast) -> dict[str, object]:
    return {"token": "never-sent"}


def another_site_of_mine(cast: Cast) -> dict[str, object]:
    return {"site": cast.fernbrook.pk}


def the_site(cast: Cast) -> dict[str, object]:
    return {"pk": cast.fernbrook.pk}


def a_turn(cast: Cast) -> dict[str, object]:
    span = {"from_at": NOW, "until_at": datetime(2999, 1, 1, tzinfo=UTC)}
    held, _ = OnCallTurn.objects.get_or_create(site=cast.fernbrook, person=cast.clinician, defaults=span)
    return {"pk": held.pk}


def a_colleague(cast: Cast) -> dict[str, object]:
    return {"pk": cast.desk.pk}


def an_invitation(cast: Cast) -> dict[str, object]:
    held, _ = Invitation.objects.get_or_create(
        site=cast.fernbrook,
        email="sam@example.org",
        defaults={
            "name": "Sam Brook",
            "role": Role.DESK,
            "token_hash": "0" * 64,
            "invited_by": cast.manager,
            "invited_at": NOW,
            "expires_at": datetime(2999, 1, 1, tzinfo=UTC),
        },
    )
    return {"pk": held.pk}


ROWS: list[Row] = [
    open_to_all("account_login", methods=ASK),
    open_to_all("mfa_authenticate", methods=ASK, outside={302}),
    open_to_all("account_logout", methods=ASK, outside={302}),
    open_to_all("account_inactive"),
    open_to_all("account_reset_password", methods=ASK),
    open_to_all("account_reset_password_done"),
    open_to_all("account_reset_password_from_key", methods=ASK, args=reset_link),
    open_to_all("account_reset_password_from_key_done"),
    form("account_reauthenticate", EVERYBODY),
    form("mfa_reauthenticate", EVERYBODY),
    form("account_change_password", EVERYBODY),
    page("mfa_index", EVERYBODY),
    form(
        "mfa_activate_totp",
        EVERYBODY,
        writes_because="The key in the picture must be the one that the code is checked with.",
    ),
    form("mfa_deactivate_totp", EVERYBODY, fine=OR_NONE_YET),
    page("mfa_view_recovery_codes", EVERYBODY, fine=OR_NONE_YET),
    form("mfa_generate_recovery_codes", EVERYBODY, fine=OR_NONE_YET),
    page("mfa_download_recovery_codes", EVERYBODY, fine=OR_NONE_YET),
    page("start", EVERYBODY),
    page("own_account", EVERYBODY),
    form("pin", EVERYBODY),
    press("language", EVERYBODY),
    press("switch_site", EVERYBODY, data=another_site_of_mine),
    form("lock", EVERYBODY),
    press("unlock", EVERYBODY),
    press("take_over", EVERYBODY),
    press("somebody_else", EVERYBODY, leaves=True),
    press("still_here", EVERYBODY),
    open_to_all("invitation", methods=ASK, args=a_token, outside={410}),
    page("setup", MANAGERS),
    form("site", MANAGERS, args=the_site),
    form("rota", MANAGERS, args=the_site),
    press("rota_remove", MANAGERS, args=a_turn),
    form("site_new", MANAGERS),
    page("people", MANAGERS),
    form("invite", MANAGERS),
    form("person", MANAGERS, args=a_colleague, by_its_own_site=False),
    press("person_end", MANAGERS, args=a_colleague, by_its_own_site=False),
    press("person_return", MANAGERS, args=a_colleague, by_its_own_site=False),
    press("person_factor", MANAGERS, args=a_colleague, by_its_own_site=False),
    press("invitation_again", MANAGERS, args=an_invitation),
    press("invitation_revoke", MANAGERS, args=an_invitation),
]
