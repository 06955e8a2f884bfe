"""Forms of the talk and of signing. Nothing is ticked beforehand."""

import json
from collections.abc import Mapping, Sequence
from typing import Any, cast

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from whitening.consent.actions import InterpreterInput, SignatureInput, TalkDetails
from whitening.consent.models import InterpreterKind, PhotoUse
from whitening.consent.names import is_same_name
from whitening.consent.rules import Strokes, check_strokes

YES_NO = [("yes", _("yes")), ("no", _("no"))]
QUOTE_FIELDS = ("included", "not_included", "redo_and_refund")


class TalkForm(forms.Form):
    language = forms.ChoiceField(
        label=_("Language in which the patient reads and signs"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Say in which language.")},
    )
    what_matters = forms.CharField(
        label=_("What matters to the patient, in their words"),
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    questions = forms.CharField(
        label=_("Questions they asked, and the answers"),
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    can_decide = forms.ChoiceField(
        label=_("Understands it, weighs it and decides for themselves"),
        choices=YES_NO,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say yes or no.")},
    )
    interpreter = forms.ChoiceField(
        label=_("Interpreter"),
        choices=InterpreterKind.choices,
        widget=forms.RadioSelect,
        error_messages={"required": _("Say who interpreted, or that no interpreter was needed.")},
    )
    interpreter_name = forms.CharField(label=_("Interpreter's name"), required=False, max_length=120)
    interpreter_language = forms.CharField(label=_("Language"), required=False, max_length=60)
    interpreter_service = forms.CharField(label=_("Service"), required=False, max_length=120)
    interpreter_is_child = forms.BooleanField(label=_("The interpreter is under 18"), required=False)
    included = forms.CharField(label=_("Included in the fee"), required=False, max_length=1000)
    not_included = forms.CharField(label=_("Not included"), required=False, max_length=1000)
    redo_and_refund = forms.CharField(
        label=_("When it has to be done again, or is stopped"), required=False, max_length=1000
    )

    def __init__(self, *args: Any, is_quoted: bool, languages: Sequence[tuple[str, str]] = (), **kwargs: Any) -> None:
        """languages: to choose from, the patient's own first; empty where there is only one."""
        super().__init__(*args, **kwargs)
        if languages:
            cast(forms.ChoiceField, self.fields["language"]).choices = list(languages)
            self.initial.setdefault("language", languages[0][0])
        else:
            del self.fields["language"]
        # The quote of a plan is given once; talking again does not change what it said.
        for name in QUOTE_FIELDS if is_quoted else ():
            del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("interpreter", InterpreterKind.NONE) != InterpreterKind.NONE:
            if not cleaned.get("interpreter_name"):
                self.add_error("interpreter_name", _("Write who interpreted."))
            if not cleaned.get("interpreter_language"):
                self.add_error("interpreter_language", _("Write in which language."))
        return cleaned

    def details(self) -> TalkDetails:
        data = self.cleaned_data
        return TalkDetails(
            **data | {"can_decide": data["can_decide"] == "yes", "interpreter": InterpreterKind(data["interpreter"])}
        )


class PhotosForm(forms.Form):
    """Four separate choices. Only what the patient chose before is filled in; nothing else ever is."""

    def __init__(self, *args: Any, held: Mapping[PhotoUse, bool | None] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for use in PhotoUse:
            chosen = (held or {}).get(use)
            self.fields[f"photo_{use.value}"] = forms.ChoiceField(
                label=format_lazy(_("Photographs may be used {use}"), use=use.label),
                choices=YES_NO,
                initial={True: "yes", False: "no", None: None}[chosen],
                widget=forms.RadioSelect,
                error_messages={"required": _("Say yes or no. Both are fine.")},
            )

    def photographs(self) -> list[forms.BoundField]:
        return [self[f"photo_{use.value}"] for use in PhotoUse]

    def choices(self) -> dict[PhotoUse, bool]:
        return {use: self.cleaned_data[f"photo_{use.value}"] == "yes" for use in PhotoUse}


class StrokesForm(forms.Form):
    """A signature by hand on the screen, or the typed name with a declared intent."""

    seen_sha256 = forms.CharField(max_length=64)
    seen_wording = forms.CharField(max_length=24, required=False)
    strokes = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200_000)
    name = forms.CharField(
        label=_("My full name"),
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": _("Write your full name.")},
    )
    typed = forms.BooleanField(
        label=_("I do not draw in the box: my typed name is my signature, and I mean it as that"), required=False
    )

    def clean_strokes(self) -> Strokes:
        raw = self.cleaned_data["strokes"]
        try:
            return check_strokes(json.loads(raw)) if raw else []
        # Brackets nested without end are no signature either.
        except (ValueError, RecursionError):
            # On top of the page: the field itself is hidden.
            self.add_error(None, _("The signature could not be read. Please sign again."))
            return []


class SignForm(StrokesForm, PhotosForm):
    """Photographs one by one, the declaration, and the signature by hand or by typing the name."""

    declared = forms.BooleanField(
        label=_("I have read this, it was talked through with me, and I agree to it."),
        error_messages={"required": _("Tick the sentence above your signature if it is true for you.")},
    )
    large_print = forms.BooleanField(label=_("Make my paper in large print"), required=False)
    # The name of which this page has asked whether it is theirs, since the record bears another one.
    name_asked = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200)

    def given(self, *, device: str) -> SignatureInput:
        data = self.cleaned_data
        return SignatureInput(
            name=data["name"],
            declared=data["declared"],
            seen_sha256=data["seen_sha256"],
            device=device,
            strokes=data["strokes"],
            typed=data["typed"],
            photographs=self.choices(),
            large_print=data["large_print"],
            is_own_name=is_same_name(data["name"], data["name_asked"]),
        )


class InterpreterForm(StrokesForm):
    """The interpreter's own. On the telephone there is no box: staff type the name of whom they hear."""

    declared = forms.BooleanField(
        error_messages={"required": _("Tick the sentence above the signature if it is true.")},
    )

    def __init__(self, *args: Any, language: str, by_phone: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["declared"].label = (
            _("On the telephone the interpreter said: “I interpreted the talk and this text, completely and truly.”")
            if by_phone
            else format_lazy(
                _("I interpreted the talk and this text into {language} and back, completely and truly."),
                language=language,
            )
        )
        if by_phone:
            self.fields["name"].label = _("The interpreter's full name, as you heard it")
            del self.fields["strokes"], self.fields["typed"]

    def given(self) -> InterpreterInput:
        data = self.cleaned_data
        return InterpreterInput(
            name=data["name"],
            declared=data["declared"],
            seen_sha256=data["seen_sha256"],
            strokes=data.get("strokes", []),
            typed=data.get("typed", False),
        )


class WithdrawForm(forms.Form):
    words = forms.CharField(label=_("In their words, if they say why"), required=False, max_length=500)


class TakeBackForm(forms.Form):
    use = forms.ChoiceField(choices=PhotoUse.choices)
