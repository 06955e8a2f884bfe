"""Law, age, consent: of the case and the day. What brings each rule up, and the nearest thing that does not."""

from datetime import date
from decimal import Decimal

from tests.whitening.screening.someone import ADULT, US, exam, plan
from tests.whitening.screening.triggers.row import Row
from whitening.screening.facts import ConsentFacts, PatientFacts
from whitening.screening.grades import Profession

SIXTEEN = PatientFacts(date(2009, 8, 12))

ROWS: list[Row] = [
    ("LAW-01", {"plan": plan(strength_hp_percent=Decimal("6.01"))}, {"plan": plan(strength_hp_percent=Decimal(6))}),
    ("LAW-02", {"plan": plan(carried_out_by=Profession.NURSE)}, {"plan": plan(carried_out_by=Profession.DENTIST)}),
    ("LAW-03", {"examination": exam(profession=Profession.HYGIENIST)}, {"examination": exam()}),
    ("AGE-01", {"patient": SIXTEEN}, {"patient": PatientFacts(date(2008, 3, 3))}),
    ("AGE-02", {"patient": SIXTEEN, "jurisdiction": US}, {"patient": ADULT, "jurisdiction": US}),
    ("AGE-03", {"examination": exam(milk_teeth=("63",))}, {"examination": exam(milk_teeth=())}),
    ("CON-01", {"consent": ConsentFacts(2)}, {"consent": ConsentFacts(1)}),
]
