"""What a patient reads a visit is called: in the practice's plain words, never the trade's."""

from django.utils.translation import get_language

from clinic.diary.models import VisitType
from clinic.messages.words import clinical_words


def told(visit_type: VisitType) -> str:
    """For mails and calendars, which show on locked screens: empty where a word says what is done to whom."""
    name = visit_type.patient_name
    return "" if clinical_words(name, get_language() or "en") else name
