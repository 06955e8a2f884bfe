"""The form that joins two records: which one is kept, what holds where they differ, and how it is known."""

from typing import Any

from django import forms
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from clinic.accounts.templatetags.shell import birth_day, person
from clinic.accounts.text import LineField
from clinic.patients.actions import details_of
from clinic.patients.actions.joining import Choice
from clinic.patients.comparing import differing, label_of, only_in, said_of
from clinic.patients.models import Patient


class JoinForm(forms.Form):
    """`one` is the record whose page somebody came from."""

    keep = forms.ChoiceField(
        label=_("Which record is kept?"),
        help_text=_("Its name and date of birth hold. The other one stays and points to it."),
        widget=forms.RadioSelect,
    )
    reason = LineField(
        label=_("How do you know that this is one person?"),
        max_length=200,
        help_text=_("Read by whoever looks up later why these were joined. Nothing clinical."),
        error_messages={"required": _("Say how you know that this is one person.")},
    )
    versions = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, one: Patient, other: Patient, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.records = {str(one.pk): one, str(other.pk): other}
        self._choose("keep", {key: _named(row) for key, row in self.records.items()})
        self.fields["versions"].initial = f"{one.version} {other.version}"
        self.differing = differing(one, other)
        for name in self.differing:
            self.fields[name] = forms.ChoiceField(label=label_of(name), widget=forms.RadioSelect)
            self._choose(name, {key: said_of(details_of(row), name) for key, row in self.records.items()})
        if one.birth_on != other.birth_on:
            self.fields["birth_word"] = LineField(
                label=_("The dates of birth differ. How do you know which one was a typing error?"),
                max_length=200,
                error_messages={"required": _("Say how you know which date of birth is right.")},
            )
        self.order_fields(["keep", *self.differing, "birth_word", "reason"])

    def _choose(self, name: str, said: dict[str, Any]) -> None:
        self.fields[name].choices = list(said.items())  # type: ignore[attr-defined]
        self.fields[name].initial = next(iter(said))

    @property
    def kept(self) -> Patient:
        return self.records[self.cleaned_data["keep"]]

    @property
    def other(self) -> Patient:
        return next(row for key, row in self.records.items() if key != self.cleaned_data["keep"])

    def choice(self) -> Choice:
        data = self.cleaned_data
        chosen = {name for name in self.differing if data[name] != data["keep"]}
        return Choice(
            reason=data["reason"],
            birth_word=data.get("birth_word", ""),
            taken=only_in(self.other, self.kept) | chosen,
            seen=self._seen(),
        )

    def show_newest(self) -> None:
        """The page that says that something has changed shows both as they stand now: what is sent next was seen."""
        self.data = {**dict(self.data.items()), "versions": self.fields["versions"].initial}

    def _seen(self) -> dict[int, int]:
        """The versions that stood on the page; what is no number was never a version."""
        typed = self.cleaned_data["versions"].split()
        numbers = [int(part) if part.isdecimal() and len(part) < 10 else 0 for part in typed]
        return dict(zip((row.pk for row in self.records.values()), [*numbers, 0, 0], strict=False))


def _named(row: Patient) -> SafeString:
    return format_html("{}, {}", person(row.name), birth_day(row.birth_on))
