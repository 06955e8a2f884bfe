"""Earlier whitening and cleaning. What brings each rule up, and the nearest thing that does not."""

from datetime import date

from tests.whitening.screening.someone import said
from tests.whitening.screening.triggers.row import Row

LONG_AGO = date(2024, 5, 1)
ROWS: list[Row] = [
    (
        "PRV-01",
        {"answers": said(whitened_before="yes", whitened_last_on=date(2025, 9, 5))},
        {"answers": said(whitened_before="yes", whitened_last_on=date(2025, 9, 4))},
    ),
    (
        "PRV-03",
        {"answers": said(whitening_now="stopped", whitening_stopped_on=date(2026, 2, 18))},
        {"answers": said(whitening_now="stopped", whitening_stopped_on=date(2026, 2, 17))},
    ),
    ("HYG-01", {"answers": said(last_cleaning="over_6_months")}, {"answers": said(last_cleaning="under_2_weeks")}),
    ("HYG-02", {"answers": said(last_cleaning="under_1_week")}, {"answers": said(last_cleaning="under_2_weeks")}),
    (
        "PRV-02",
        {"answers": said(whitened_before="yes", whitened_last_on=LONG_AGO, whitening_hurt="yes")},
        {"answers": said(whitened_before="yes", whitened_last_on=LONG_AGO, whitening_hurt="no")},
    ),
    (
        "PRV-04",
        {"answers": said(whitened_before="yes", whitened_last_on=LONG_AGO, whitening_often="yes")},
        {"answers": said(whitened_before="yes", whitened_last_on=LONG_AGO, whitening_often="no")},
    ),
]
