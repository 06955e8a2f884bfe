"""One accessible markup for every form: label, hint and error belong to their control by id."""

import pytest
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Layout, Row, Submit
from crispy_forms.utils import render_crispy_form
from django import forms
from django.template import Context, Template
from django.test import RequestFactory

from tests.clinic.look.markup import Element, read


class Registration(forms.Form):
    name = forms.CharField(label="Name", help_text="As on their papers", max_length=20)
    email = forms.EmailField(label="E-mail", required=False)
    wish = forms.CharField(label="Their wish", widget=forms.Textarea, required=False)
    channel = forms.ChoiceField(
        label="How may we reach them?",
        help_text="They can change it",
        choices=[("sms", "Text message"), ("call", "Call")],
        widget=forms.RadioSelect,
    )
    purposes = forms.MultipleChoiceField(
        label="What for?", choices=[("a", "Visits"), ("b", "Sheets")], widget=forms.CheckboxSelectMultiple
    )
    language = forms.ChoiceField(label="Language", choices=[("en", "English")])
    agreed = forms.BooleanField(label="They agreed", help_text="Ask")
    token = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean(self) -> None:
        raise forms.ValidationError("Somebody registered them a minute ago.")


@pytest.fixture
def refused() -> Element:
    return draw(Registration({"name": "", "email": "lin@", "wish": "Lighter <b>please</b>", "language": "xx"}))


def draw(form: forms.Form) -> Element:
    return read(render_crispy_form(form, context={"csrf_token": "t" * 32}))


def test_each_label_names_its_control(refused: Element) -> None:
    ids = {each.attributes["id"] for each in refused.walk() if "id" in each.attributes}
    labels = refused.all("label")
    assert len(labels) == 9  # four boxes, one tick box, two and two choices
    assert {label.attributes["for"] for label in labels} <= ids
    assert all(label.words for label in labels)


def test_no_id_stands_twice(refused: Element) -> None:
    ids = [each.attributes["id"] for each in refused.walk() if "id" in each.attributes]
    assert sorted(set(ids)) == sorted(ids)


def test_hint_and_error_belong_to_the_control(refused: Element) -> None:
    control = refused.one("input", name="name")
    hint, error = (refused_by_id(refused, each) for each in control.attributes["aria-describedby"].split())
    assert hint.words == "As on their papers"
    assert error.words == "Fill this in."
    assert control.attributes["aria-invalid"] == "true"


def test_the_label_comes_first_then_hint_control_error(refused: Element) -> None:
    field = refused_by_id(refused, "div_id_name")
    assert [child.tag for child in field.children] == ["label", "p", "input", "div"]


def test_choices_stand_in_a_fieldset_with_a_legend(refused: Element) -> None:
    group = refused_by_id(refused, "div_id_channel")
    assert group.tag == "fieldset"
    assert group.children[0].tag == "legend"
    assert group.children[0].words == "How may we reach them?"
    described = [refused_by_id(refused, each).words for each in group.attributes["aria-describedby"].split()]
    assert described == ["They can change it", "Choose an answer."]
    assert [each.attributes["type"] for each in group.all("input")] == ["radio", "radio"]


def test_a_tick_box_has_its_label_beside_it(refused: Element) -> None:
    row = refused_by_id(refused, "div_id_agreed").one("div", class_="choice")
    assert [child.tag for child in row.children] == ["input", "label"]
    assert refused_by_id(refused, "id_agreed_error").words == "Tick this to go on."


def test_what_is_optional_is_said(refused: Element) -> None:
    optional = [label.words for label in refused.all("label") if label.all("span", class_="optional")]
    assert optional == ["E-mail optional", "Their wish optional"]


def test_the_list_on_top_leads_to_each_control(refused: Element) -> None:
    top = refused.one("div", class_="errors")
    assert "data-focus-errors" in top.attributes
    assert top.one("h2").words == ("7 things to put right. Nothing was saved yet; what you typed is still here.")
    assert top.all("li")[0].words == "Somebody registered them a minute ago."
    targets = [link.attributes["href"].removeprefix("#") for link in top.all("a")]
    assert targets == ["id_name", "id_email", "id_channel_0", "id_purposes_0", "id_language", "id_agreed"]
    assert {refused_by_id(refused, target).tag for target in targets} <= {"input", "select", "textarea"}
    assert top.all("a")[1].words == "E-mail This is not an e-mail address. One looks like name@example.org."


def test_what_was_typed_stays_and_is_escaped(refused: Element) -> None:
    assert refused.one("input", name="email").attributes["value"] == "lin@"
    assert refused.one("textarea", name="wish").words == "Lighter <b>please</b>"


def test_a_form_without_errors_has_no_list() -> None:
    clean = draw(Registration())
    assert clean.all("div", class_="errors") == []
    assert clean.all("div", class_="error") == []
    assert all("aria-invalid" not in each.attributes for each in clean.walk())


def test_the_form_is_sent_once_with_its_token() -> None:
    form = draw(Registration()).one("form")
    assert form.attributes["method"] == "post"
    assert {"novalidate", "data-send-once"} <= form.attributes.keys()
    assert form.one("input", name="csrfmiddlewaretoken").attributes["value"] == "t" * 32


def test_a_search_form_carries_no_token() -> None:
    form = Registration()
    form.helper = FormHelper()  # type: ignore[attr-defined]
    form.helper.form_method = "get"  # type: ignore[attr-defined]
    drawn = read(Template("{% load crispy_forms_tags %}{% crispy form %}").render(Context({"form": form})))
    assert drawn.one("form").attributes["method"] == "get"
    assert drawn.all("input", name="csrfmiddlewaretoken") == []


def test_parts_rows_and_buttons() -> None:
    form = Registration()
    form.helper = FormHelper()  # type: ignore[attr-defined]
    form.helper.layout = Layout(Fieldset("Who", Row("name", "email")), "agreed")  # type: ignore[attr-defined]
    form.helper.add_input(Submit("save", "Register"))  # type: ignore[attr-defined]
    form.helper.add_input(Submit("draft", "Keep", css_class="quiet"))  # type: ignore[attr-defined]
    drawn = read(Template("{% load crispy_forms_tags %}{% crispy form %}").render(Context({"form": form})))
    part = drawn.one("fieldset", class_="form-part")
    assert part.one("legend").words == "Who"
    assert len(part.one("div", class_="form-row").all("input")) == 2
    main, quiet = drawn.one("div", class_="buttons").all("button")
    assert (main.words, main.attributes["class"], main.attributes["name"]) == ("Register", "button", "save")
    assert (quiet.words, quiet.attributes["class"]) == ("Keep", "quiet")


def test_fields_alone_inside_a_form_of_ones_own() -> None:
    request = RequestFactory().get("/")
    template = Template("{% load crispy_forms_tags %}<form>{{ form|crispy }}</form>{{ other.name|as_crispy_field }}")
    values = {"form": Registration(), "other": Registration(prefix="b"), "request": request}
    drawn = read(template.render(Context(values)))
    assert len(drawn.one("form").all("label")) == 9
    assert drawn.one("input", name="b-name").attributes["aria-describedby"] == "id_b-name_helptext"


def test_a_formset_shows_each_row_and_its_own_errors() -> None:
    rows = forms.formset_factory(Registration, extra=0, min_num=1, validate_min=True)
    formset = rows({"form-TOTAL_FORMS": "0", "form-INITIAL_FORMS": "0"})
    drawn = read(Template("{% load crispy_forms_tags %}{% crispy form %}").render(Context({"form": formset})))
    assert len(drawn.one("div", class_="errors").all("li")) == 1
    assert drawn.one("input", name="form-TOTAL_FORMS").attributes["type"] == "hidden"


def refused_by_id(root: Element, wanted: str) -> Element:
    found = [each for each in root.walk() if each.attributes.get("id") == wanted]
    assert len(found) == 1, wanted
    return found[0]
