"""A short text message through the gateway that settings.SMS_URL names (an Apprise address)."""

import logging
from collections.abc import Callable
from typing import TYPE_CHECKING

from django.conf import settings

from clinic.messages.channels.parcel import Fate, Handed, Parcel

if TYPE_CHECKING:
    from apprise import Apprise

logger = logging.getLogger(__name__)
PLACE = "{to}"
# What makes further gateways known to Apprise, once it is loaded.
_own_gateways: list[Callable[[], None]] = []


def add_gateway(register: Callable[[], None]) -> None:
    """`register` is called before the first text of this process."""
    _own_gateways.append(register)


def is_on() -> bool:
    return bool(settings.SMS_URL)


def gateway(phone: str) -> str:
    """The number goes where the address says {to}, else to its end, as digits with the country code."""
    digits = phone.lstrip("+")
    if PLACE in settings.SMS_URL:
        return settings.SMS_URL.replace(PLACE, digits)
    return f"{settings.SMS_URL.removesuffix('/')}/{digits}"


def service_for(phone: str) -> "Apprise | None":
    """None where the settings name no address that Apprise knows."""
    # A fifth of what every process would load, and most never send a text.
    from apprise import Apprise, AppriseAsset  # noqa: PLC0415

    while _own_gateways:
        _own_gateways.pop()()
    service = Apprise(asset=AppriseAsset(async_mode=False))
    return service if service.add(gateway(phone)) else None


def hand_over(parcel: Parcel) -> Handed:
    from apprise.result import AppriseResultStatus  # noqa: PLC0415  (see service_for)

    service = service_for(parcel.recipient.phone)
    if service is None:
        logger.error("CASEBOOK_SMS_URL is no address that Apprise knows.")
        return Handed(fate=Fate.LATER, reason="the text gateway is not set up rightly")
    result = service.notify(body=parcel.letter.sms)
    if result.status == AppriseResultStatus.SUCCESS:
        return Handed(fate=Fate.TAKEN)
    if result.status == AppriseResultStatus.TIMEOUT:
        return Handed(fate=Fate.UNCERTAIN, reason="the text gateway gave no answer in time")
    # The gateway's own no. Apprise does not say more, so the same channel is not tried again blindly.
    return Handed(fate=Fate.REFUSED, reason="the text gateway refused it")
