"""The register's entries in the trail, each with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "patients.registered": _("registered the patient"),
            "patients.changed": _("changed the patient's details"),
            "patients.contact_chosen": _("recorded how the patient wants to be reached"),
            "patients.number_wrong": _("noted that the telephone number is wrong"),
            "patients.number_right": _("took back that the telephone number is wrong"),
            "patients.moved_away": _("noted that the patient moved away"),
            "patients.move_taken_back": _("took back the note that the patient moved away"),
            "patients.joined": _("joined another record of the same person with this one"),
            "patients.joined_into": _("joined this record with the one that is kept"),
            "patients.parted": _("took the joined records apart again"),
            "patients.parted_from": _("took the joined records apart again"),
            "patients.died": _("noted that the patient died"),
            "patients.death_taken_back": _("took back the note that the patient died"),
        }
    )
