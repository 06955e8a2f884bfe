"""Why something about people, sites or sign-in was not done, in the words that the reader gets."""

from django.utils.translation import gettext_lazy as _

from clinic.trail.refusals import Refusal


class PracticeExists(Refusal):
    code = "accounts.practice_exists"
    sentence = _("This installation already has its practice, “%(name)s”. Add sites and people on the Set-up pages.")


class JurisdictionUnknown(Refusal):
    code = "accounts.jurisdiction_unknown"
    sentence = _("“%(code)s” is not among the rules this program knows. Choose one of: %(known)s.")


class ChangedMeanwhile(Refusal):
    code = "accounts.changed_meanwhile"
    sentence = _("Somebody else changed this while you were typing. Both versions are shown; save again to keep yours.")


class AddressTaken(Refusal):
    code = "accounts.address_taken"
    sentence = _("Somebody with this address works here already. Open them on the People page and add the role there.")


class AlreadyInvited(Refusal):
    code = "accounts.already_invited"
    sentence = _("This address has an open invitation. Take that one back first, then send a new one.")


class InvitationClosed(Refusal):
    code = "accounts.invitation_closed"
    sentence = _("This invitation was used, taken back, or is older than three days. Ask a manager for a new one.")


class PinTooSimple(Refusal):
    code = "accounts.pin_too_simple"
    sentence = _("Choose a PIN that is harder to guess: not all the same digits, and not in a row.")


class WrongSecret(Refusal):
    code = "accounts.wrong_secret"
    sentence = _("That is neither the PIN nor the password. Tries left before a full sign-in: %(left)s.")


class WrongPin(Refusal):
    code = "accounts.wrong_pin"
    sentence = _("That is not the PIN. Tries left before a full sign-in: %(left)s.")


class TooManyTries(Refusal):
    code = "accounts.too_many_tries"
    sentence = _("Five wrong tries. Sign in with e-mail and password; the PIN works again afterwards.")


class NotOnThisScreen(Refusal):
    code = "accounts.not_on_this_screen"
    sentence = _("This person has not signed in at this screen today. Use the full sign-in.")


class OwnAccess(Refusal):
    code = "accounts.own_access"
    sentence = _("You cannot end your own access or take away your own manager role. Ask another manager.")


class LastManager(Refusal):
    code = "accounts.last_manager"
    sentence = _("This is the last manager of the site. Make somebody else manager first.")


class OnCall(Refusal):
    code = "accounts.on_call"
    sentence = _("This person is on call at the site. Choose somebody else on the site's page and on the rota first.")


class NoFactor(Refusal):
    code = "accounts.no_factor"
    sentence = _("This person has no second factor, so there is none to take away.")
