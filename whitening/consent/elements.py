"""What a consent must hold, in whatever language and in whoever's words: 21 elements, and which facts of the plan
each of them names. From the project's clinical reference, its section on consent. Pure."""

from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext_lazy as _
from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True)
class Required:
    """says: what a reader must find in it. names: the facts of the plan, put in braces where they belong."""

    number: int
    says: StrOrPromise
    names: tuple[str, ...] = ()

    @property
    def braces(self) -> str:
        return ", ".join(f"{{{name}}}" for name in self.names)


REQUIRED: Final = (
    Required(
        1,
        _("who it is about, who planned, prescribed and explained it, where, when, in which language"),
        ("patient", "birth", "planned_by", "prescribed_by", "site", "day", "talked_by", "language"),
    ),
    Required(
        2,
        _("what will be done: the gel and its strength, which teeth, how long, how often, the light, the gums"),
        ("strength", "arches", "left_out", "minutes", "cycles", "sessions", "light", "isolation"),
    ),
    Required(3, _("that it is for looks, not for health")),
    Required(4, _("what to expect, that it differs, and that nothing can be promised"), ("expectation",)),
    Required(5, _("the other ways, doing nothing among them, and which of them cannot be undone")),
    Required(6, _("sensitive teeth, with the figures")),
    Required(7, _("burns and white patches on gums and lips")),
    Required(8, _("that fillings, crowns and veneers keep their colour, and who pays for replacing them")),
    Required(9, _("that roots stay dark and white spots may stand out")),
    Required(10, _("how long it lasts, and that it may have to be done again")),
    Required(11, _("rare harm: tooth nerve, allergy, jaw, eyes and skin")),
    Required(12, _("that the light is optional and may add nothing"), ("light_short", "curing_light")),
    Required(13, _("that what was told is true, and that changes are told at once")),
    Required(14, _("48 hours without smoking, and following the sheet")),
    Required(
        15,
        _("what it costs, what is included and what is not, doing it again, stopping"),
        ("fee", "included", "not_included", "redo", "valid_until"),
    ),
    Required(16, _("the right to stop and to withdraw, and how")),
    Required(17, _("the patient's own questions"), ("questions",)),
    Required(18, _("what matters to the patient"), ("what_matters",)),
    Required(19, _("deciding for oneself, and who interpreted"), ("capacity", "interpreter")),
    Required(20, _("the patient's data, and that how to reach them is a choice apart")),
    Required(21, _("photographs: separate choices, each of which can be changed")),
)
# A wording may name any of them anywhere, once more than it must.
NAMES: Final = frozenset(name for element in REQUIRED for name in element.names)
