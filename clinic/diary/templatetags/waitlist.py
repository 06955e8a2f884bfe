"""The waiting list in words, for its pages."""

from django import template
from django.utils.translation import gettext

from clinic.diary.models import WaitingOffer, WaitingWish
from clinic.diary.waitlist.forms import NOTICE
from clinic.diary.waitlist.wording import reasons, times_words

register = template.Library()


@register.simple_tag
def suits(wish: WaitingWish) -> str:
    return times_words(wish)


@register.simple_tag
def why_offered(offer: WaitingOffer) -> list[str]:
    return reasons(offer)


@register.simple_tag
def notice(wish: WaitingWish) -> str:
    words = dict(NOTICE).get(wish.notice_hours, f"{wish.notice_hours} h")
    return gettext("notice: %(words)s") % {"words": words}


@register.simple_tag
def answers_for(offer: WaitingOffer) -> list[tuple[str, str, str]]:
    """What the desk may answer for this person: the code of the answer, the word on the button, and whose it is."""
    words = [
        ("yes", gettext("Yes, book it")),
        ("no", gettext("No thanks")),
        ("leave", gettext("Off the list")),
        ("withdraw", gettext("Take it back")),
    ]
    return [(code, word, f"{word}: {offer.wish.patient.name}") for code, word in words]
