"""What the style page shows: one specimen of each part that pages are made of, with invented content."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Layout, Row, Submit
from django import forms
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from clinic.accounts.context import PARTS, Shell
from clinic.accounts.context import Entry as RailEntry
from clinic.accounts.fields import NativeDate, TypedDateField
from clinic.accounts.marks import MARKS
from whitening.casebook.timeline import Day, Entry
from whitening.cases.ladder import Ladder, lay_out
from whitening.cases.models.shades import Moment
from whitening.shade.tabs import TABS


class SpecimenShell(Shell):
    """The frame with every part on its rail, whoever looks."""

    signed_in = True
    person_name = "Noor Haddad"
    place = "Fernbrook Dental Rooms"

    @property
    def demo_entries(self) -> list[RailEntry]:
        return [RailEntry(word=_("Demo mailbox"), url="#mailbox", current=False)]

    @property
    def entries(self) -> list[RailEntry]:
        return [RailEntry(word=word, url=f"#{name}", current=name == "diary") for name, word in PARTS]


class SpecimenForm(forms.Form):
    """Each kind of control once, so that its label, hint and error can be looked at."""

    name = forms.CharField(label=_("Name"), help_text=_("As it stands on their papers"), max_length=120)
    born_on = TypedDateField(label=_("Date of birth"), earliest=date(1900, 1, 1))
    email = forms.EmailField(label=_("E-mail"), required=False)
    wish = forms.CharField(label=_("What would they like to change?"), widget=forms.Textarea(attrs={"rows": 3}))
    channel = forms.ChoiceField(
        label=_("How may we reach them?"),
        help_text=_("They can change this at any time"),
        choices=[("sms", _("Text message")), ("email", _("E-mail")), ("call", _("Telephone call"))],
        widget=forms.RadioSelect,
    )
    purposes = forms.MultipleChoiceField(
        label=_("What for?"),
        choices=[("visits", _("Visits")), ("sheets", _("Sheets to read")), ("year", _("A reminder in a year"))],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    language = forms.ChoiceField(label=_("Language"), choices=[("en", "English"), ("de", "Deutsch"), ("ar", "العربية")])
    on = forms.DateField(label=_("Day"), widget=NativeDate)
    until = forms.DateField(label=_("Held until"), widget=NativeDate, required=False)
    sensitivity = forms.IntegerField(
        label=_("How sensitive, 0 to 10"), widget=forms.NumberInput(attrs={"min": 0, "max": 10})
    )
    agreed = forms.BooleanField(label=_("They agreed to be written to"), help_text=_("Ask; do not assume"))

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)  # type: ignore[arg-type]
        self.helper = FormHelper()
        self.helper.layout = Layout(
            "name",
            "born_on",
            "email",
            "wish",
            Fieldset(_("Staying in touch"), "channel", "purposes", "language"),
            Row("on", "until"),
            "sensitivity",
            "agreed",
        )
        self.helper.add_input(Submit("save", _("Register the patient")))
        self.helper.add_input(Submit("later", _("Save as a draft"), css_class="quiet"))


@dataclass(frozen=True, kw_only=True)
class SpecimenReading:
    tab: str
    provisional: bool
    read_at: datetime
    moment: Moment

    def get_moment_display(self) -> str | Promise:
        return self.moment.label


READINGS = (
    SpecimenReading(
        tab="A3", provisional=False, read_at=datetime(2026, 3, 3, 14, 30, tzinfo=UTC), moment=Moment.EXAMINATION
    ),
    SpecimenReading(tab="A3", provisional=False, read_at=datetime(2026, 3, 10, 9, 5, tzinfo=UTC), moment=Moment.START),
    SpecimenReading(
        tab="B2", provisional=True, read_at=datetime(2026, 3, 10, 10, 20, tzinfo=UTC), moment=Moment.FINISH
    ),
    SpecimenReading(tab="D2", provisional=False, read_at=datetime(2026, 4, 9, 11, 0, tzinfo=UTC), moment=Moment.REVIEW),
)
DAYS = tuple(
    Day(reading.read_at.date(), [Entry(reading.read_at, name, sentence)])
    for reading, name, sentence in (
        (READINGS[3], "Aleš Dvořák", _("recorded the month review")),
        (READINGS[0], "Noor Haddad", _("registered the patient")),
    )
)
FILLED_WRONGLY = {"name": "", "born_on": "8/25/1990", "email": "lin@", "wish": "Lighter, please", "on": "2026-02-30"}


def ladder() -> Ladder:
    return lay_out(tabs=TABS, readings=READINGS)


def marks() -> Sequence[str]:
    return tuple(MARKS)


@dataclass(frozen=True, kw_only=True)
class Column:
    word: str | Promise
    numeric: bool = False


@dataclass(frozen=True, kw_only=True)
class Table:
    caption: str | Promise
    columns: Sequence[Column]
    cells: Sequence[Sequence[object]]

    @property
    def rows(self) -> list[list[tuple[Column, object]]]:
        return [list(zip(self.columns, row, strict=True)) for row in self.cells]


BATCHES = Table(
    caption=_("Batches that expire within 60 days"),
    columns=(Column(word=_("Product")), Column(word=_("Batch")), Column(word=_("Left"), numeric=True)),
    cells=((_("Whitening gel A"), "WG-2041", 12), (_("Barrier B"), "BB-0007", 3)),
)
