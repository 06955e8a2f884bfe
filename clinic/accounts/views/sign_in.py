"""The pages of the sign-in library that this product uses, each behind a door of ours.

What is not named here has no address: sign-up, e-mail management, linked accounts, passkeys.
"""

from allauth.account import views as account
from allauth.mfa.base import views as factor
from allauth.mfa.recovery_codes import views as codes
from allauth.mfa.totp import views as totp

from clinic.accounts.doors import public, staff
from clinic.accounts.rights import Capability
from clinic.accounts.views.around import ends_the_session, shows_the_factor

ASK = ("GET", "POST")
_own = staff(Capability.OWN_ACCOUNT, methods=ASK, before_factor=True)

login = public(reason="This is where one signs in.", methods=ASK)(account.login)
logout = public(reason="Signing out must always work.", methods=ASK)(ends_the_session(account.logout))
inactive = public(reason="Says that the sign-in was ended by a manager.")(account.account_inactive)
reauthenticate = _own(account.reauthenticate)
password_change = staff(Capability.OWN_ACCOUNT, methods=ASK)(account.password_change)
password_reset = public(reason="Whoever forgot the password cannot be signed in.", methods=ASK)(account.password_reset)
password_reset_done = public(reason="Says that a mail is on its way, known address or not.")(
    account.password_reset_done
)
password_reset_from_key = public(reason="The link in the mail.", methods=ASK)(account.password_reset_from_key)
password_reset_from_key_done = public(reason="Says that the new password holds.")(account.password_reset_from_key_done)

factor_index = staff(Capability.OWN_ACCOUNT, before_factor=True)(factor.index)
factor_authenticate = public(reason="The second step of signing in.", methods=ASK)(factor.authenticate)
factor_reauthenticate = _own(factor.reauthenticate)
totp_activate = _own(shows_the_factor(totp.activate_totp))
totp_deactivate = _own(totp.deactivate_totp)
codes_view = staff(Capability.OWN_ACCOUNT, before_factor=True)(codes.view_recovery_codes)
codes_generate = _own(codes.generate_recovery_codes)
codes_download = staff(Capability.OWN_ACCOUNT, before_factor=True)(codes.download_recovery_codes)
