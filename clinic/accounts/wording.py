"""Our words in place of the framework's, where a form refuses what was typed.

Django's own sentences say that something is invalid; ours say what to do next. A field or a form that
brings a sentence of its own keeps it: only the framework's defaults, recognised as the very objects
that Django hands on, are exchanged.
"""

from django import forms
from django.core import validators
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

_TYPE_A_DAY = _("This is not a date. Type day, month and year, such as 12/8/2026 for 12 August 2026.")
_CHOOSE_FROM_LIST = _("Choose one from the list; the one sent is not on it any more.")

_REQUIRED = forms.Field.default_error_messages["required"]
_TICK = _("Tick this to go on.")
_CHOOSE = _("Choose an answer.")
_WORDS: tuple[tuple[object, Promise], ...] = (
    (_REQUIRED, _("Fill this in.")),
    (validators.EmailValidator.message, _("This is not an e-mail address. One looks like name@example.org.")),
    (forms.DateField.default_error_messages["invalid"], _TYPE_A_DAY),
    (forms.TimeField.default_error_messages["invalid"], _("This is not a time of day. Type it like 14:30.")),
    (forms.IntegerField.default_error_messages["invalid"], _("Type a whole number, in digits.")),
    (forms.DecimalField.default_error_messages["invalid"], _("Type a number, in digits.")),
    (forms.ChoiceField.default_error_messages["invalid_choice"], _CHOOSE_FROM_LIST),
    (forms.MultipleChoiceField.default_error_messages["invalid_choice"], _CHOOSE_FROM_LIST),
    (forms.ModelChoiceField.default_error_messages["invalid_choice"], _CHOOSE_FROM_LIST),
    (validators.MinValueValidator.message, _("Type %(limit_value)s or more.")),
    (validators.MaxValueValidator.message, _("Type %(limit_value)s or less.")),
    (
        validators.ProhibitNullCharactersValidator.message,
        _("There is a character in it that cannot be kept. Delete it and type it anew."),
    ),
    (
        validators.MaxLengthValidator.message,
        _("This is too long: %(limit_value)d characters fit, and it has %(show_value)d. Shorten it."),
    ),
)
_OURS = {id(theirs): ours for theirs, ours in _WORDS}


def say(error: ValidationError, widget: forms.Widget) -> list[str]:
    """The sentences of one error, in our words where the framework's own stood."""
    sentences = []
    for each in error.error_list:
        ours = _missing(widget) if each.message is _REQUIRED else _OURS.get(id(each.message))
        sentences.append(str(ours) % each.params if ours and each.params else str(ours or next(iter(each))))
    return sentences


def _missing(widget: forms.Widget) -> Promise:
    """One fills a box in, ticks a tick box, and chooses from a list."""
    if isinstance(widget, forms.CheckboxInput):
        return _TICK
    return _CHOOSE if isinstance(widget, forms.widgets.ChoiceWidget) else _OURS[id(_REQUIRED)]
