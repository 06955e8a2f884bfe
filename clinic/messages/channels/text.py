"""A short text message through the gateway that settings.SMS_URL names (an Apprise address)."""

import logging

from apprise import Apprise, AppriseAsset
from apprise.result import AppriseResultStatus
from django.conf import settings

from clinic.messages.channels.parcel import Fate, Handed, Parcel

logger = logging.getLogger(__name__)
PLACE = "{to}"


def is_on() -> bool:
    return bool(settings.SMS_URL)


def gateway(phone: str) -> str:
    """The number goes where the address says {to}, else to its end, as digits with the country code."""
    digits = phone.lstrip("+")
    if PLACE in settings.SMS_URL:
        return settings.SMS_URL.replace(PLACE, digits)
    return f"{settings.SMS_URL.removesuffix('/')}/{digits}"


def hand_over(parcel: Parcel) -> Handed:
    service = Apprise(asset=AppriseAsset(async_mode=False))
    if not service.add(gateway(parcel.recipient.phone)):
        logger.error("CASEBOOK_SMS_URL is no address that Apprise knows.")
        return Handed(fate=Fate.LATER, reason="the text gateway is not set up rightly")
    result = service.notify(body=parcel.letter.sms)
    if result.status == AppriseResultStatus.SUCCESS:
        return Handed(fate=Fate.TAKEN)
    if result.status == AppriseResultStatus.TIMEOUT:
        return Handed(fate=Fate.UNCERTAIN, reason="the text gateway gave no answer in time")
    # The gateway's own no. Apprise does not say more, so the same channel is not tried again blindly.
    return Handed(fate=Fate.REFUSED, reason="the text gateway refused it")
