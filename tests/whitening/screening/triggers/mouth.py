"""Teeth and gums. What brings each rule up, and the nearest thing that does not."""

from datetime import date

from tests.whitening.screening.someone import exam, said, tooth_with
from tests.whitening.screening.triggers.row import Row
from whitening.screening.examination import Gums, Periodontitis, SoftTissue, Trouble

ROWS: list[Row] = [
    (
        "CAR-01",
        {"examination": tooth_with("11", Trouble.DECAY)},
        {"examination": tooth_with("11")},
    ),
    ("RES-01", {"examination": tooth_with("21", Trouble.FAULTY_RESTORATION)}, {"examination": tooth_with("21")}),
    (
        "RES-04",
        {"examination": tooth_with("22", restored_on=date(2026, 2, 18))},
        {"examination": tooth_with("22", restored_on=date(2026, 2, 17))},
    ),
    ("CRK-01", {"examination": tooth_with("31", Trouble.PAINFUL_CRACK)}, {"examination": tooth_with("31")}),
    (
        "DEN-02",
        {"examination": tooth_with("43", Trouble.BARE_DENTINE_NOT_COVERABLE)},
        {"examination": tooth_with("43")},
    ),
    ("SEN-01", {"answers": said(sensitivity=3)}, {"answers": said(sensitivity=0)}),
    ("SEN-02", {"answers": said(sensitivity=4)}, {"answers": said(sensitivity=0)}),
    ("PUL-01", {"examination": tooth_with("12", Trouble.SICK_PULP)}, {"examination": tooth_with("12")}),
    ("PER-01", {"examination": exam(gums=Gums(inflamed=True))}, {"examination": exam(gums=Gums())}),
    (
        "PER-02",
        {"examination": exam(gums=Gums(periodontitis=Periodontitis.ACTIVE))},
        {"examination": exam(gums=Gums(periodontitis=Periodontitis.STABLE))},
    ),
    ("MUC-01", {"examination": exam(soft_tissue=SoftTissue(sore=True))}, {"examination": exam()}),
    ("MUC-02", {"examination": exam(soft_tissue=SoftTissue(suspicious=True))}, {"examination": exam()}),
    ("HSV-01", {"examination": exam(soft_tissue=SoftTissue(cold_sore=True))}, {"examination": exam()}),
    (
        "PUL-03",
        {"answers": said(mouth_lately=("knock",), knocked_on=date(2026, 2, 1))},
        {"answers": said(mouth_lately=(), knocked_on=date(2026, 2, 1))},
    ),
    (
        "SUR-01",
        {"answers": said(mouth_lately=("extraction",), mouth_operated_on=date(2026, 2, 20))},
        {"answers": said(mouth_lately=(), mouth_operated_on=date(2026, 2, 20))},
    ),
    ("STN-01", {"answers": said(tetracycline="unsure")}, {"answers": said(tetracycline="no")}),
    # 30 days since they came off.
    (
        "ORT-01",
        {"answers": said(worn_in_mouth=("braces_off",), braces_off_on=date(2026, 2, 2))},
        {"answers": said(worn_in_mouth=("braces_off",), braces_off_on=date(2026, 2, 1))},
    ),
    ("ORT-02", {"answers": said(worn_in_mouth=("buttons",))}, {"answers": said(worn_in_mouth=())}),
    ("IMP-01", {"answers": said(worn_in_mouth=("implant",))}, {"answers": said(worn_in_mouth=())}),
    ("PIE-01", {"answers": said(worn_in_mouth=("piercing",))}, {"answers": said(worn_in_mouth=())}),
    ("MUC-03", {"answers": said(mouth_lining=("burning",))}, {"answers": said(mouth_lining=())}),
    ("DRY-01", {"answers": said(mouth_lining=("dry",))}, {"answers": said(mouth_lining=())}),
    ("ERO-01", {"answers": said(acid_in_mouth="unsure")}, {"answers": said(acid_in_mouth="no")}),
]
