"""Forms of follow-ups: the same questions for the patient's phone and for staff who type on the telephone."""

from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from clinic.accounts.models import User
from clinic.messages.models import BY_CALL
from whitening.recall.actions import NeedsAReason, NeedsWords, ReviewDetails
from whitening.recall.models import AttemptResult, ReviewDecision, Satisfaction
from whitening.recall.questions import GUMS, PAINKILLERS, SATISFACTION, SMOKE, YES_NO
from whitening.recall.timing import CHECK_MONTHS
from whitening.recall.triage import Answers
from whitening.shade.tabs import TABS

_SCALE = [(number, str(number)) for number in range(11)]
_ASK = {"required": _("Please choose one answer.")}


def _yes_no(label: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=YES_NO, widget=forms.RadioSelect, error_messages=_ASK)


class HowAreYouForm(forms.Form):
    """Nothing is chosen beforehand: an answer that nobody gave is no answer."""

    swelling = _yes_no(
        _("Is your face, lip, tongue or throat swollen, is it hard to breathe or swallow, or have you a rash?")
    )
    eye = _yes_no(_("Do your eyes hurt, is your sight blurred, or does light hurt?"))
    sensitivity = forms.TypedChoiceField(
        label=_("How sensitive are your teeth now? 0 is not at all, 10 is the worst."),
        coerce=int,
        choices=_SCALE,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    worst = forms.TypedChoiceField(
        label=_("How sensitive were they at the worst moment since your treatment?"),
        coerce=int,
        choices=_SCALE,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    falling = _yes_no(_("Is it getting less, or is there nothing to feel?"))
    woke_at_night = _yes_no(_("Did it wake you at night?"))
    one_tooth = _yes_no(_("Is it one single tooth?"))
    gums = forms.ChoiceField(
        label=_("How are your gums and lips?"), choices=GUMS, widget=forms.RadioSelect, error_messages=_ASK
    )
    painkillers = forms.ChoiceField(
        label=_("Do you take something for the pain?"),
        choices=PAINKILLERS,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    smoke = forms.ChoiceField(
        label=_("Have you stayed smoke-free since your treatment?"),
        choices=SMOKE,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    satisfaction = forms.TypedChoiceField(
        label=_("How happy are you so far?"),
        coerce=int,
        choices=SATISFACTION,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    call_me = forms.BooleanField(label=_("Please call me"), required=False)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        now, worst = data.get("sensitivity"), data.get("worst")
        if now is not None and worst is not None and worst < now:
            self.add_error("worst", _("At the worst moment it cannot have been less than now."))
        return data

    def answers(self) -> Answers:
        """As much as was answered; whether that is all of it, the form's own check says."""
        data = self.cleaned_data
        yes_or_no = ("swelling", "eye", "falling", "woke_at_night", "one_tooth")
        return Answers(
            sensitivity=data.get("sensitivity"),
            worst=data.get("worst"),
            gums=data.get("gums"),
            painkillers=data.get("painkillers"),
            smoke=data.get("smoke"),
            satisfaction=data.get("satisfaction"),
            call_me=data.get("call_me", False),
            **{name: data[name] == "yes" for name in yes_or_no if name in data},
        )


# What "All is well" says in one press; the page shows each of these sentences beside the button.
ALL_WELL = Answers(
    sensitivity=0,
    falling=True,
    woke_at_night=False,
    one_tooth=False,
    gums="fine",
    swelling=False,
    eye=False,
    painkillers="none",
)


class AttemptForm(forms.Form):
    seen_version = forms.IntegerField(widget=forms.HiddenInput)
    result = forms.ChoiceField(label=_("How it went"), choices=AttemptResult.choices, error_messages=_ASK)
    words = forms.CharField(label=_("In a few words"), max_length=500, required=False)


class MessageCallForm(forms.Form):
    CHOICES: ClassVar = [(one.value, one.label) for one in BY_CALL]
    outcome = forms.ChoiceField(label=_("How it went"), choices=CHOICES, error_messages=_ASK)


class AstrayForm(forms.Form):
    """What becomes of a message that did not go the usual way."""

    AGAIN, CALLED, LET_BE = "again", "called", "let_be"
    SAID: ClassVar = {
        AGAIN: _("It is sent again, if it may still go out."),
        CALLED: _("The call is noted."),
        LET_BE: _("Let be. It stands in the record."),
    }
    done = forms.ChoiceField(choices=[(one, one) for one in SAID])


class SettleForm(forms.Form):
    words = forms.CharField(
        label=_("What came of it"),
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": NeedsWords.sentence},
    )


class OwnerForm(forms.Form):
    """Who sees to it from now on, and why."""

    to = forms.ModelChoiceField(
        label=_("Who sees to it"),
        queryset=User.objects.none(),
        empty_label=_("Choose"),
        error_messages={"required": _("Choose somebody.")},
    )
    words = forms.CharField(
        label=_("Why, in a word"), max_length=200, error_messages={"required": NeedsAReason.sentence}
    )

    def __init__(self, *args: Any, able: list[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["to"].queryset = User.objects.filter(pk__in=able)  # type: ignore[attr-defined]


COLOUR = _("Remind me in about a year about the colour of my teeth")
_ELSEWHERE = "elsewhere"


def _intervals() -> list[tuple[str, Any]]:
    """Asked for each time: numbers are put into words in the language of the day."""
    months = [
        (str(number), ngettext("in %(n)d month", "in %(n)d months", number) % {"n": number}) for number in CHECK_MONTHS
    ]
    return [*months, (_ELSEWHERE, _("not by us: somebody else sees to it"))]


class ReviewForm(forms.Form):
    tab = forms.ChoiceField(
        label=_("Shade"),
        choices=[(tab.code, tab.code) for tab in TABS],
        widget=forms.RadioSelect,
        error_messages={"required": _("Pick the tab that matches.")},
    )
    sensitivity = forms.TypedChoiceField(
        label=_("Sensitivity, 0 to 10"), coerce=int, choices=_SCALE, widget=forms.RadioSelect, error_messages=_ASK
    )
    satisfaction = forms.TypedChoiceField(
        label=_("How happy with the colour"),
        coerce=int,
        choices=Satisfaction.choices,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    gums_quiet = _yes_no(_("Gums are quiet"))
    decision = forms.ChoiceField(
        label=_("Decision"), choices=ReviewDecision.choices, widget=forms.RadioSelect, error_messages=_ASK
    )
    words = forms.CharField(
        label=_("In the patient's words"), max_length=1000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    next_check = forms.ChoiceField(
        label=_("Next dental check"),
        help_text=_("By this patient's own risk; no fixed interval was found to be better than another."),
        choices=_intervals,
        widget=forms.RadioSelect,
        error_messages=_ASK,
    )
    colour = forms.BooleanField(
        label=COLOUR,
        help_text=_(
            "Only if the patient asks for it. It is one reminder, and leads to questions and an examination first."
        ),
        required=False,
    )

    def details(self) -> ReviewDetails:
        data = self.cleaned_data
        return ReviewDetails(
            tab=data["tab"],
            sensitivity=data["sensitivity"],
            satisfaction=Satisfaction(data["satisfaction"]),
            gums_quiet=data["gums_quiet"] == "yes",
            decision=ReviewDecision(data["decision"]),
            words=data["words"],
            check_months=None if data["next_check"] == _ELSEWHERE else int(data["next_check"]),
            colour_wording=str(COLOUR) if data["colour"] else "",
        )
