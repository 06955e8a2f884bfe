"""A site: whose rules hold there, whom to call, who is on call."""

from dataclasses import asdict
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext_lazy as _

from clinic.accounts import jurisdictions
from clinic.accounts.actions.sites import SiteDetails
from clinic.accounts.models import Site, User
from clinic.accounts.models.places import NOTICE_HOURS, ShortNotice, must_be_a_zone
from clinic.accounts.phones import TelephoneFormField
from clinic.accounts.public_holidays import countries, regions
from clinic.accounts.rights import Capability, who_may

_THREE = RegexValidator(r"^[A-Z]{3}$", message=_("Three capital letters, such as GBP or EUR."))


class NumberField(forms.CharField):
    """A number as it is dialled there: an emergency number is no full telephone number."""

    default_validators = [RegexValidator(r"^[+0-9][0-9 ()/.-]*$", message=_("Digits, as they are dialled there."))]

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=40, required=False, widget=forms.TextInput({"inputmode": "tel"}), **options)


class SiteForm(forms.Form):
    name = forms.CharField(label=_("Name of the site"), max_length=120)
    address = forms.CharField(
        label=_("Postal address"), max_length=400, required=False, widget=forms.Textarea({"rows": 3})
    )
    phone = TelephoneFormField(
        label=_("Telephone"),
        required=False,
        error_messages={"invalid": _("That is not a telephone number. Begin with + and the country code.")},
    )
    email = forms.EmailField(label=_("E-mail"), required=False)
    jurisdiction = forms.ChoiceField(
        label=_("Whose rules hold here"),
        help_text=_("Decides strengths, ages and who may do what. Nothing can be planned until it is chosen."),
        error_messages={"required": _("Choose whose rules hold here.")},
    )
    country = forms.ChoiceField(
        label=_("Country"), error_messages={"invalid_choice": _("Pick the country: two capital letters, such as GB.")}
    )
    region = forms.ChoiceField(
        label=_("Region, for its public holidays"),
        required=False,
        help_text=_("After a change of country: save it, and the regions of that country stand here."),
        error_messages={
            "invalid_choice": _("That is no region of this country. Pick one of those that stand here now.")
        },
    )
    timezone = forms.CharField(label=_("Time zone"), help_text=_("Such as Europe/London."), validators=[must_be_a_zone])
    currency = forms.CharField(
        label=_("Currency, three letters"), validators=[_THREE], widget=forms.TextInput({"class": "short"})
    )
    emergency_number = NumberField(label=_("Emergency number"))
    poison_number = NumberField(label=_("Poison advice number"))
    out_of_hours_number = NumberField(label=_("Number outside opening hours"))
    notice_hours = forms.IntegerField(
        label=_("Notice asked for before a cancellation, in hours"),
        min_value=0,
        max_value=14 * 24,
        required=False,
        initial=NOTICE_HOURS,
        help_text=_("A cancelled visit shows how long before it was, next to this."),
    )
    short_notice = forms.ChoiceField(
        label=_("With less notice, a patient's own link"),
        choices=ShortNotice,
        required=False,
        initial=ShortNotice.ACCEPT,
        help_text=_("To another time such a visit is then moved on the telephone only."),
    )
    on_call = forms.ModelChoiceField(
        label=_("Person on call when nobody has a turn"),
        queryset=User.objects.none(),
        required=False,
        empty_label=_("Nobody yet"),
        help_text=_("Is told when a patient's answer is worrying."),
    )

    def __init__(self, *args: Any, site: Site | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [("", _("Choose")), *jurisdictions.registered().items()]
        self.fields["jurisdiction"].choices = choices  # type: ignore[attr-defined]
        self.fields["country"].choices = [("", _("Choose")), *countries()]  # type: ignore[attr-defined]
        country = str(self["country"].value() or "")
        self.fields["region"].choices = [("", _("the whole country")), *regions(country)]  # type: ignore[attr-defined]
        zones = sorted(available_timezones())
        self.fields["timezone"].widget = forms.Select(choices=[("", _("Choose")), *((zone, zone) for zone in zones)])
        if site is not None:
            self._offer(site)

    def _offer(self, site: Site) -> None:
        """Only who may read what they would have to answer; whoever is named already stays to be seen, with a word."""
        able = [person.pk for person in who_may(Capability.REPLIES_READ, site)]
        field = self.fields["on_call"]
        field.queryset = User.objects.filter(pk__in=[*able, site.on_call_id])  # type: ignore[attr-defined]
        if site.on_call is not None and site.on_call.pk not in able:
            field.help_text = _(
                "%(name)s does not count: they have left, or may not read what patients answer at this site. Choose "
                "somebody else."
            ) % {"name": site.on_call.name}

    def details(self) -> SiteDetails:
        data = dict(self.cleaned_data)
        person = data.pop("on_call", None)
        phone = data.pop("phone")
        if data["notice_hours"] is None:
            data["notice_hours"] = NOTICE_HOURS
        data["short_notice"] = data["short_notice"] or ShortNotice.ACCEPT.value
        names = SiteDetails.__dataclass_fields__
        values = {name: value for name, value in data.items() if name in names}
        return SiteDetails(**values, phone=phone.as_e164 if phone else "", on_call_id=person.pk if person else None)


class ChangeSiteForm(SiteForm):
    seen_version = forms.IntegerField(widget=forms.HiddenInput)

    @classmethod
    def of(cls, site: Site, details: SiteDetails) -> "ChangeSiteForm":
        values = asdict(details)
        return cls(site=site, initial=values | {"on_call": details.on_call_id, "seen_version": site.version})


class NewSiteForm(SiteForm):
    slug = forms.SlugField(
        label=_("Short name for addresses"), max_length=50, help_text=_("Small letters, digits and hyphens; it stays.")
    )

    def clean_slug(self) -> str:
        slug: str = self.cleaned_data["slug"].lower()
        if Site.objects.filter(slug=slug).exists():
            raise forms.ValidationError(_("Another site has this short name. Choose a different one."))
        return slug
