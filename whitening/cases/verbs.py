"""The case's entries in the trail, each with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "cases.opened": _("opened a whitening case"),
            "cases.visit_added": _("added a visit to the case"),
            "cases.visit_numbered": _("gave a session of the case another number"),
            "cases.planned": _("made a plan"),
            "cases.shade_read": _("read a shade"),
            "cases.shade_corrected": _("corrected a shade by a late entry of the session"),
            "cases.put_off": _("put the case off"),
            "cases.put_off_lifted": _("lifted that the case was put off"),
            "cases.closed": _("closed the case"),
            "cases.opened_again": _("opened the case again that had been closed by mistake"),
            "cases.product_changed": _("changed a product"),
            "cases.price_changed": _("changed a price"),
        }
    )
