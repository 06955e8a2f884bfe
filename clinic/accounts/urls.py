"""Addresses of sign-in, screen lock, one's own account, people and sites."""

from django.urls import URLPattern, path, re_path

from clinic.accounts.views import joining, own, people, rota, screen, setup, sign_in

# The names are those by which the sign-in library finds its own pages.
urlpatterns: list[URLPattern] = [
    path("sign-in/", sign_in.login, name="account_login"),
    path("sign-in/second-factor/", sign_in.factor_authenticate, name="mfa_authenticate"),
    path("sign-out/", sign_in.logout, name="account_logout"),
    path("sign-in/ended/", sign_in.inactive, name="account_inactive"),
    path("sign-in/again/", sign_in.reauthenticate, name="account_reauthenticate"),
    path("sign-in/again/second-factor/", sign_in.factor_reauthenticate, name="mfa_reauthenticate"),
    path("password/", sign_in.password_change, name="account_change_password"),
    path("password/forgotten/", sign_in.password_reset, name="account_reset_password"),
    path("password/forgotten/sent/", sign_in.password_reset_done, name="account_reset_password_done"),
    re_path(
        r"^password/new/(?P<uidb36>[0-9A-Za-z]{1,13})-(?P<key>[0-9A-Za-z:_\-]{1,200})/$",
        sign_in.password_reset_from_key,
        name="account_reset_password_from_key",
    ),
    path("password/new/done/", sign_in.password_reset_from_key_done, name="account_reset_password_from_key_done"),
    path("second-factor/", sign_in.factor_index, name="mfa_index"),
    path("second-factor/set-up/", sign_in.totp_activate, name="mfa_activate_totp"),
    path("second-factor/give-up/", sign_in.totp_deactivate, name="mfa_deactivate_totp"),
    path("second-factor/recovery-codes/", sign_in.codes_view, name="mfa_view_recovery_codes"),
    path("second-factor/recovery-codes/new/", sign_in.codes_generate, name="mfa_generate_recovery_codes"),
    path("second-factor/recovery-codes/file/", sign_in.codes_download, name="mfa_download_recovery_codes"),
    path("start/", own.start, name="start"),
    path("account/", own.own_account, name="own_account"),
    path("account/pin/", own.pin, name="pin"),
    path("account/language/", own.language, name="language"),
    path("account/site/", own.switch_site, name="switch_site"),
    path("lock/", screen.lock, name="lock"),
    path("lock/open/", screen.unlock, name="unlock"),
    path("lock/take-over/", screen.take_over, name="take_over"),
    path("lock/somebody-else/", screen.somebody_else, name="somebody_else"),
    path("still-here/", screen.still_here, name="still_here"),
    path("invitation/<str:token>/", joining.invitation, name="invitation"),
    path("setup/", setup.setup, name="setup"),
    path("setup/sites/new/", setup.new_site, name="site_new"),
    path("setup/sites/<int:pk>/", setup.site, name="site"),
    path("setup/sites/<int:pk>/on-call/", rota.rota, name="rota"),
    path("setup/on-call/<int:pk>/take-out/", rota.rota_remove, name="rota_remove"),
    path("setup/people/", people.people_list, name="people"),
    path("setup/people/invite/", people.invite, name="invite"),
    path("setup/people/<int:pk>/", people.person, name="person"),
    path("setup/people/<int:pk>/end/", people.person_end, name="person_end"),
    path("setup/people/<int:pk>/return/", people.person_return, name="person_return"),
    path("setup/people/<int:pk>/second-factor/", people.person_factor, name="person_factor"),
    path("setup/invitations/<int:pk>/again/", people.invitation_again, name="invitation_again"),
    path("setup/invitations/<int:pk>/take-back/", people.invitation_revoke, name="invitation_revoke"),
]
