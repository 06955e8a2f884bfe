"""Light: illnesses, medicines, eyes. What brings each rule up, and the nearest thing that does not."""

from tests.whitening.screening.someone import said
from tests.whitening.screening.triggers.row import Row

ROWS: list[Row] = [
    ("LGT-01", {"answers": said(light_treatment="yes")}, {"answers": said(light_treatment="no")}),
    ("LGT-02", {"answers": said(porphyria="yes")}, {"answers": said(porphyria="no")}),
    ("LGT-03", {"answers": said(sun_illness="unsure")}, {"answers": said(sun_illness="no")}),
    (
        "LGT-04",
        {"answers": said(light_medicines=("light",))},
        {"answers": said(light_medicines=())},
    ),
    ("LGT-05", {"answers": said(light_medicines=("retinoid",))}, {"answers": said(light_medicines=())}),
    ("LGT-06", {"answers": said(light_medicines=("hypericum",))}, {"answers": said(light_medicines=())}),
    ("LGT-08", {"answers": said(eyes=("lens",))}, {"answers": said(eyes=())}),
    ("LGT-10", {"answers": said(eyes=("contact_lenses",))}, {"answers": said(eyes=())}),
    ("LGT-07", {"answers": said(skin_cancer="yes")}, {"answers": said(skin_cancer="no")}),
    ("LGT-09", {"answers": said(flashing_lights="yes")}, {"answers": said(flashing_lights="no")}),
]
