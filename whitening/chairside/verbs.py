"""Entries about sessions, materials and lights in the trail, each with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "chairside.identity_asked": _("asked for name and date of birth"),
            "chairside.opened": _("opened a session"),
            "chairside.recorded": _("recorded at the chair"),
            "chairside.closed": _("closed a session"),
            "chairside.batch_received": _("received a batch"),
            "chairside.batch_held": _("put a batch on hold"),
            "chairside.batch_released": _("released a batch"),
            "chairside.batch_wasted": _("wrote off part of a batch"),
            "chairside.light_changed": _("changed a light"),
            "chairside.light_checked": _("checked a light"),
        }
    )
