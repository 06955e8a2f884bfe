"""Between when and when a patient may pick a time alone."""

from datetime import datetime, time, timedelta

from clinic.diary.engine.working import instant
from clinic.diary.models import VisitType


def patient_window(visit_type: VisitType, *, now: datetime) -> tuple[datetime, datetime]:
    """Half-open range of starts. Notice is counted in hours that pass, days ahead in whole days of the site.

    Empty (its end not after its start) where the notice is longer than the days ahead.
    """
    zone = visit_type.site.zone
    last_on = now.astimezone(zone).date() + timedelta(days=visit_type.patient_days_ahead)
    return now + timedelta(hours=visit_type.patient_notice_hours), instant(last_on + timedelta(days=1), time(0), zone)
