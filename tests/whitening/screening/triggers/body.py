"""Pregnancy, allergies, metabolism, medicines. What brings each rule up, and the nearest thing that does not."""

from tests.whitening.screening.someone import exam, said
from tests.whitening.screening.triggers.row import Row
from whitening.screening.examination import Item

ROWS: list[Row] = [
    (
        "PRG-01",
        {"answers": said(pregnancy_may_apply="yes", pregnant="yes", breastfeeding="no")},
        {"answers": said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="no")},
    ),
    (
        "PRG-02",
        {"answers": said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="yes")},
        {"answers": said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="no")},
    ),
    (
        "PRG-03",
        {"answers": said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="no", trying_for_a_baby="yes")},
        {"answers": said(pregnancy_may_apply="yes", pregnant="no", breastfeeding="no", trying_for_a_baby="no")},
    ),
    ("ALG-01", {"answers": said(reacted_to_peroxide="yes")}, {"answers": said(reacted_to_peroxide="no")}),
    ("ALG-02", {"answers": said(reacted_to_resin="unsure")}, {"answers": said(reacted_to_resin="no")}),
    ("ALG-03", {"answers": said(allergies=("latex",))}, {"answers": said(allergies=())}),
    ("ALG-04", {"answers": said(allergies=("colophony",))}, {"answers": said(allergies=())}),
    (
        "ALG-05",
        {"answers": said(allergies=("other",), allergies_which=("mint",))},
        {"answers": said(allergies=(), allergies_which=("mint",))},
    ),
    ("MED-02", {"answers": said(allergies=("painkiller",))}, {"answers": said(allergies=())}),
    ("MET-01", {"answers": said(no_fizz="yes")}, {"answers": said(no_fizz="no")}),
    ("MET-02", {"answers": said(illnesses=("g6pd",))}, {"answers": said(illnesses=())}),
    ("MET-03", {"answers": said(illnesses=("diabetes",))}, {"answers": said(illnesses=())}),
    ("MET-04", {"answers": said(illnesses=("radiotherapy",))}, {"answers": said(illnesses=())}),
    (
        "MED-01",
        {
            "answers": said(medicines=("amoxicillin",)),
            "examination": exam(looked_at=frozenset(Item) - {Item.MEDICINES}),
        },
        {"answers": said(medicines=()), "examination": exam(looked_at=frozenset(Item) - {Item.MEDICINES})},
    ),
]
