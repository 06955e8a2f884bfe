from django.utils.translation import gettext_lazy as _

VERBS = {
    "accounts.practice_started": _("started the practice"),
    "accounts.manager_appointed": _("made the first manager"),
    "accounts.site_opened": _("opened the site"),
    "accounts.site_changed": _("changed the site"),
    "accounts.person_invited": _("invited a colleague"),
    "accounts.invitation_revoked": _("took an invitation back"),
    "accounts.invitation_accepted": _("accepted the invitation"),
    "accounts.person_changed": _("changed a colleague's rights or details"),
    "accounts.person_deactivated": _("ended a colleague's access"),
    "accounts.person_reactivated": _("gave a colleague access again"),
    "accounts.factor_reset": _("took away a colleague's lost second factor"),
    "accounts.factor_added": _("set up a second factor"),
    "accounts.factor_removed": _("gave up the second factor"),
    "accounts.password_changed": _("changed the password"),
    "accounts.pin_changed": _("changed the PIN of the screen lock"),
    "accounts.signed_in": _("signed in"),
    "accounts.sign_in_failed": _("failed to sign in"),
    "accounts.switched_to": _("took over the screen with the PIN"),
    "accounts.unlock_failed": _("failed to open the screen lock"),
    "accounts.signed_out": _("signed out"),
}
