"""Where messages go must be known before the first one is due, and not be learnt from a failed one."""

from collections.abc import Sequence

from anymail.exceptions import AnymailConfigurationError
from django.apps import AppConfig
from django.core.checks import CheckMessage, Error
from django.core.mail import get_connection

from clinic.messages.channels import text

# Any number will do: only the form of the address is looked at.
_SOME_NUMBER = "+442079460018"


def mail_can_be_handed_over(*, app_configs: Sequence[AppConfig] | None, **_options: object) -> list[CheckMessage]:
    try:
        get_connection()
    except AnymailConfigurationError as error:
        # The first line names the lacking setting; it shows no value.
        lacking = str(error).splitlines()[0]
        return [Error(f"CASEBOOK_EMAIL_URL lacks something: {lacking}", id="messages.E001")]
    return []


def texts_can_be_handed_over(*, app_configs: Sequence[AppConfig] | None, **_options: object) -> list[CheckMessage]:
    if not text.is_on() or text.service_for(_SOME_NUMBER):
        return []
    hint = "Without texts, leave it empty: nobody is offered them then."
    return [Error("CASEBOOK_SMS_URL is no address that Apprise knows.", hint=hint, id="messages.E002")]
