"""Habits, jaw, breath, fits. What brings each rule up, and the nearest thing that does not."""

from datetime import date

from tests.whitening.screening.someone import said
from tests.whitening.screening.triggers.row import Row

ROWS: list[Row] = [
    ("SMK-01", {"answers": said(smoking="many")}, {"answers": said(smoking="some", smoke_free_hard="no")}),
    ("ALC-01", {"answers": said(alcohol="much")}, {"answers": said(alcohol="some")}),
    ("BRX-01", {"answers": said(jaw=("grinding",))}, {"answers": said(jaw=())}),
    ("TMJ-01", {"answers": said(jaw=("narrow",))}, {"answers": said(jaw=())}),
    ("TMJ-02", {"answers": said(jaw=("locked",))}, {"answers": said(jaw=())}),
    ("GAG-01", {"answers": said(lying_back=("gagging",))}, {"answers": said(lying_back=())}),
    (
        "RSP-01",
        {"answers": said(lying_back=("asthma",), asthma_troubles="yes")},
        {"answers": said(lying_back=("asthma",), asthma_troubles="no")},
    ),
    # 3 months and 90 days before: 3 December counts 90, and 3 months are the longer of the two.
    (
        "EPI-01",
        {"answers": said(illnesses=("epilepsy",), last_fit_on=date(2025, 12, 4))},
        {"answers": said(illnesses=("epilepsy",), last_fit_on=date(2025, 12, 3))},
    ),
    ("SWL-01", {"answers": said(lying_back=("posture",))}, {"answers": said(lying_back=())}),
    ("EXP-01", {"answers": said(hoped_for="certain")}, {"answers": said(hoped_for="lighter")}),
    ("EXP-02", {"answers": said(look_on_mind="yes")}, {"answers": said(look_on_mind="no")}),
]
