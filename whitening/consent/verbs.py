"""Consent in the trail, each entry with its sentence."""

from django.utils.translation import gettext_lazy as _

from clinic.trail import verbs


def register() -> None:
    verbs.register(
        {
            "consent.talked": _("recorded the talk about the plan"),
            "consent.signed": _("signed the consent"),
            "consent.interpreted": _("wrote down the interpreter's signature"),
            "consent.paper_read": _("wrote down what stands on a signed paper"),
            "consent.paper_checked": _("checked what stands on a signed paper"),
            "consent.signed_on_paper": _("confirmed the consent that was signed on paper"),
            "consent.countersigned": _("countersigned the consent"),
            "consent.withdrawn": _("recorded that the consent is withdrawn"),
            "consent.deposit_recorded": _("recorded what happened to a deposit"),
            "consent.wording_written": _("wrote a version of the consent’s words"),
            "consent.wording_used": _("took a version of the consent’s words into use"),
            "consent.translation_checked": _("recorded who checked a translation of the consent"),
            "consent.photographs_chosen": _("chose what photographs may be used for"),
        }
    )
