"""The words that rules are written in: grades, families, who answers, who decides, how good a source is."""

from enum import IntEnum, StrEnum

from django.utils.translation import gettext_lazy as _

from whitening.screening.words import Words


class Grade(IntEnum):
    """Ordered: the worst one wins."""

    NOTE = 1
    WITH_CARE = 2
    NOT_YET = 3
    MUST_NOT = 4

    @property
    def code(self) -> str:
        return self.name.lower()

    @property
    def label(self) -> Words:
        return GRADE_LABELS[self]


GRADE_LABELS: dict[Grade, Words] = {
    Grade.NOTE: _("Note"),
    Grade.WITH_CARE: _("With care"),
    Grade.NOT_YET: _("Not yet"),
    Grade.MUST_NOT: _("Must not"),
}


class Family(StrEnum):
    # Of the case and the day, not of the body.
    LAW = "law"
    AGE = "age"
    CONSENT = "consent"
    # Of the body: what the patient tells and the examination finds.
    PREGNANCY = "pregnancy"
    ALLERGY = "allergy"
    METABOLIC = "metabolic"
    MEDICAL = "medical"
    TEETH = "teeth"
    GUMS = "gums"
    HISTORY = "history"
    LIGHT = "light"
    HABITS = "habits"
    GENERAL = "general"
    EXPECTATION = "expectation"

    @property
    def label(self) -> Words:
        return FAMILY_LABELS[self]


FAMILY_LABELS: dict[Family, Words] = {
    Family.LAW: _("Local rules"),
    Family.AGE: _("Age"),
    Family.CONSENT: _("Consent"),
    Family.PREGNANCY: _("Pregnancy and breastfeeding"),
    Family.ALLERGY: _("Allergies"),
    Family.METABOLIC: _("Metabolism"),
    Family.MEDICAL: _("Medicines"),
    Family.TEETH: _("Teeth"),
    Family.GUMS: _("Gums and soft tissue"),
    Family.HISTORY: _("Earlier whitening and cleaning"),
    Family.LIGHT: _("Light"),
    Family.HABITS: _("Habits"),
    Family.GENERAL: _("Lying back with an open mouth"),
    Family.EXPECTATION: _("What is hoped for"),
}

# No decision of a person ends a finding of these: only the fact itself does.
NEVER_OVERRIDABLE = frozenset({Family.LAW, Family.AGE, Family.CONSENT})


class AnsweredBy(StrEnum):
    PATIENT = "patient"
    CLINICIAN = "clinician"
    SYSTEM = "system"


class Decider(StrEnum):
    """Who may clear a finding by a recorded decision."""

    NOBODY = "nobody"
    CLINICIAN = "clinician"
    DENTIST = "dentist"

    @property
    def label(self) -> Words:
        return DECIDER_LABELS[self]


DECIDER_LABELS: dict[Decider, Words] = {
    Decider.NOBODY: _("no decision ends it; only the fact itself does"),
    Decider.CLINICIAN: _("a clinician may decide"),
    Decider.DENTIST: _("a dentist may decide"),
}


class PlanChange(StrEnum):
    """What a plan must leave out for a finding to lose its hold."""

    NO_LIGHT = "no_light"
    RESIN_FREE = "resin_free"
    TEETH_LEFT_OUT = "teeth_left_out"

    @property
    def label(self) -> Words:
        return PLAN_CHANGE_LABELS[self]


PLAN_CHANGE_LABELS: dict[PlanChange, Words] = {
    PlanChange.NO_LIGHT: _("a plan without a light ends it"),
    PlanChange.RESIN_FREE: _("a plan without resin ends it"),
    PlanChange.TEETH_LEFT_OUT: _("a plan that leaves these teeth out ends it"),
}


class Quality(StrEnum):
    """How far a source was followed. Shown beside the source, never left away."""

    # Most sources were read as an abstract, an excerpt or a summary; none of them is legal or medical advice.
    SEEN = "seen"
    REPORTED = "reported"
    MEMORY = "memory"
    COMMON_PRACTICE = "common_practice"

    @property
    def label(self) -> Words:
        return QUALITY_LABELS[self]


QUALITY_LABELS: dict[Quality, Words] = {
    Quality.SEEN: _("seen in a text or its summary"),
    Quality.REPORTED: _("reported by others"),
    Quality.MEMORY: _("from memory, unverified"),
    Quality.COMMON_PRACTICE: _("common practice, no source"),
}


# The same words as on the staff's own record; rules are plain Python and do not import that table.
class Profession(StrEnum):
    """The word on a person's registration; local rules name professions."""

    DENTIST = "dentist"
    HYGIENIST = "hygienist"
    THERAPIST = "therapist"
    CLINICAL_TECHNICIAN = "clinical_technician"
    NURSE = "nurse"
    OTHER = "other"

    @property
    def label(self) -> Words:
        return PROFESSION_LABELS[self]


PROFESSION_LABELS: dict[Profession, Words] = {
    Profession.DENTIST: _("dentist"),
    Profession.HYGIENIST: _("dental hygienist"),
    Profession.THERAPIST: _("dental therapist"),
    Profession.CLINICAL_TECHNICIAN: _("clinical dental technician"),
    Profession.NURSE: _("dental nurse"),
    Profession.OTHER: _("not registered"),
}

# They may record a decision where the rule asks for a clinician; some rules ask for a dentist.
CLINICIANS = frozenset({Profession.DENTIST, Profession.HYGIENIST, Profession.THERAPIST, Profession.CLINICAL_TECHNICIAN})
