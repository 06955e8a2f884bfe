"""What a local rule says about one gel, one person, one day: allowed or not, in a sentence that names the rule."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from dateutil.relativedelta import relativedelta
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from whitening.screening.grades import Profession
from whitening.screening.jurisdictions import Jurisdiction
from whitening.screening.words import Words


@dataclass(frozen=True, slots=True)
class Verdict:
    """Allowed or not, and the sentence that names the rule."""

    allowed: bool
    sentence: Words


def strength_allowed(*, jurisdiction: Jurisdiction, hp_percent: Decimal) -> Verdict:
    """The test is on hydrogen peroxide as used, as the label or the maker states it."""
    # Never computed from a carbamide factor alone: authorities pair 6 % with 16.6, 17 and 18 %.
    cap = jurisdiction.hp_cap_percent
    if cap is None:
        return Verdict(
            True,
            format_lazy(
                _("No limit on strength was found for {place}. The maker's instructions and the dentist decide."),
                place=jurisdiction.name,
            ),
        )
    return Verdict(
        hp_percent <= cap,
        format_lazy(
            _cap_sentence(jurisdiction, is_within=hp_percent <= cap),
            strength=shown_percent(hp_percent),
            cap=shown_percent(cap),
            basis=jurisdiction.cap_basis,
            place=jurisdiction.name,
            instrument=jurisdiction.instrument,
            version=jurisdiction.version,
            source=jurisdiction.source_of("hp_cap_percent"),
        ),
    )


def shown_percent(percent: Decimal) -> str:
    """Without zeros that say nothing: 6, 5.5, 10."""
    return f"{percent.normalize() + 0:f}"


def _cap_sentence(jurisdiction: Jurisdiction, *, is_within: bool) -> Words:
    if is_within:
        return _(
            "{strength} % hydrogen peroxide is within the limit of {cap} % ({basis}) of the local rules ({place})."
        )
    if jurisdiction.own is not None and "hp_cap_percent" in jurisdiction.own.values:
        return _(
            "{strength} % hydrogen peroxide is more than the {cap} % ({basis}) that this practice allows ({place}): "
            "own rule, version {version}, {source}. Choose a weaker gel."
        )
    return _(
        "{strength} % hydrogen peroxide is more than the {cap} % ({basis}) that the local rules allow ({place}): "
        "{instrument}. Choose a weaker gel."
    )


def may_carry_out(
    *,
    jurisdiction: Jurisdiction,
    profession: Profession,
    prescribed_by: Profession | None,
    supervised_by: Profession | None,
) -> Verdict:
    """May this person put the gel on here, given who prescribed it and which dentist is at hand."""
    facts = {"profession": profession.label, "place": jurisdiction.name}
    if profession in jurisdiction.may_carry_out:
        return Verdict(
            True, format_lazy(_("By the local rules ({place}) a {profession} may carry out whitening."), **facts)
        )
    # A prescription and supervision are different bonds: the one does not stand in for the other.
    if profession in jurisdiction.on_prescription:
        if prescribed_by in jurisdiction.may_prescribe:
            return Verdict(
                True,
                format_lazy(
                    _("By the local rules ({place}) a {profession} may carry it out on prescription."), **facts
                ),
            )
        wanted = _(
            "By the local rules ({place}) a {profession} may carry it out only on a dentist's prescription. "
            "Record who prescribed it."
        )
        return Verdict(False, format_lazy(wanted, **facts))
    if profession in jurisdiction.under_supervision:
        if supervised_by in jurisdiction.may_carry_out:
            return Verdict(
                True,
                format_lazy(
                    _("By the local rules ({place}) a {profession} may carry it out under a dentist."), **facts
                ),
            )
        wanted = _(
            "By the local rules ({place}) a {profession} may carry it out only under a dentist's supervision. "
            "Record which dentist."
        )
        return Verdict(False, format_lazy(wanted, **facts))
    refused = _("By the local rules ({place}) a {profession} may not carry out whitening. Name somebody who may.")
    return Verdict(False, format_lazy(refused, **facts))


def may_examine(*, jurisdiction: Jurisdiction, profession: Profession) -> bool:
    return profession in jurisdiction.may_examine


def may_prescribe(*, jurisdiction: Jurisdiction, profession: Profession) -> bool:
    return profession in jurisdiction.may_prescribe


def facts_are_old(*, jurisdiction: Jurisdiction, today: date) -> bool:
    """Law moves: after a year somebody looks again."""
    return today > jurisdiction.checked_on + relativedelta(years=1)
