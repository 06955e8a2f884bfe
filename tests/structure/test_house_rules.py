"""The house rules find what they are for, and the repository keeps them."""

from pathlib import Path

import pytest

from scripts.house import python, styles, templates
from scripts.house.__main__ import breaches, files

GOOD_PAGE = """{# takes: patient. #}
{% load i18n %}
<p title="{% translate 'Name' %}">{% translate "Name" %}: {{ patient.name }} <b>16</b></p>
{% blocktranslate %}Seen by <b>two</b> people{% endblocktranslate %}
<span translate="no">FHIR</span>
{{ form.based_on }}{% day quote.valid_until %}<a href="?on={{ from_on|date:"Y-m-d" }}">{% translate "Later" %}</a>
"""


def test_the_repository_keeps_them() -> None:
    found = [
        str(each)
        for path in files()
        if path.suffix in {".py", ".html", ".css", ".js", ".txt"}
        for each in breaches(path, path.read_text())
    ]
    assert found == []


def test_a_good_partial_passes() -> None:
    assert list(templates.breaches(Path("templates/patients/_name.html"), GOOD_PAGE)) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("<script>start()</script>", "A script stands inline."),
        ("<style>p { margin: 0 }</style>", "A style element stands inline."),
        ('<p style="margin: 0"></p>', "A style attribute"),
        ('<p onclick="go()"></p>', "An event attribute"),
        ('<p hx-on:click="go()"></p>', "hx-on evaluates"),
        ("<p hx-vals='js:{a: 1}'></p>", "A js: value"),
        ('<p hx-trigger="click[ctrlKey]"></p>', "A trigger filter"),
        ("{% block title %}{{ a }} {% day b %}{% endblock %}", "A title is plain text"),
        ("{% block title %}{{ name|person }}{% endblock %}", "A title is plain text"),
        ("{{ name|safe }}", "Unescaped output"),
        ("{{ booking.wall_on|date }}", "A shape of its own for a date"),
        ('{% blocktranslate with at=sent_at|date:"j M Y" %}{{ at }}{% endblocktranslate %}', "A shape of its own"),
        ('{{ pattern.from_time|time:"H:i" }}', "A shape of its own for a date"),
        ("{{ quote.valid_until }}", "A bare date"),
        ("{% autoescape off %}{% endautoescape %}", "Unescaped output"),
        ('<img src="https://cdn.example.org/a.png" alt="">', "An address of another machine"),
        ("<p>Save</p>", "Words outside a translate tag (Save)"),
        ('<input placeholder="Name">', "Words outside a translate tag (placeholder=Name)"),
        ('<a aria-label="Back" href="/"></a>', "Words outside a translate tag (aria-label=Back)"),
        ("<br>\n" * 101, "A template has at most 100 lines"),
    ],
)
def test_a_template_is_refused(text: str, sentence: str) -> None:
    found = [each.sentence for each in templates.breaches(Path("templates/page.html"), text)]
    assert any(each.startswith(sentence) for each in found), found


def test_a_partial_says_what_it_takes() -> None:
    found = [each.sentence for each in templates.breaches(Path("templates/_part.html"), "<br>")]
    assert found == ["A partial opens with {# takes: … #}, the variables it needs."]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("Item.objects.filter(starts_at__date=day)", "Compute half-open bounds instead of starts_at__date"),
        ("Item.objects.filter(starts_at__year=2026)", "Compute half-open bounds instead of starts_at__year"),
        ("Item.objects.order_by('-starts_at__hour')", "Compute half-open bounds instead of -starts_at__hour"),
        ("from django.db.models.functions import TruncDate", "Compute half-open bounds instead of TruncDate"),
        ("datetime.now(UTC)", "The clock is read by clinic.trail.clock alone (datetime.now)"),
        ("datetime.date.today()", "The clock is read by clinic.trail.clock alone (date.today)"),
        ("timezone.now", "The clock is read by clinic.trail.clock alone (timezone.now)"),
        ("from django.utils.timezone import now", "The clock is read by clinic.trail.clock alone (now)"),
        ("DateTimeField(auto_now=True)", "The time of an action is an argument, not auto_now"),
        ("date_format(day, 'j M Y')", "Write dates by clinic.accounts.dates, not date_format"),
        ("formats.time_format(time)", "Write dates by clinic.accounts.dates, not time_format"),
        ("moment.strftime('%d')", "Write dates by clinic.accounts.dates, not strftime"),
        ("translation.override(patient.language)", "Switch by clinic.accounts.languages, not translation.override"),
        ("translation.activate('ar')", "Switch by clinic.accounts.languages, not translation.activate"),
        ("from django.db import models", "Rules are plain Python (django.db)"),
        ("def long():\n" + "    x = 1\n" * 60, "long has 61 lines"),
    ],
)
def test_python_is_refused(text: str, sentence: str) -> None:
    found = [each.sentence for each in python.breaches(Path("whitening/recall/rules.py"), text)]
    assert any(each.startswith(sentence) for each in found), found


@pytest.mark.parametrize(
    "text",
    [
        "Item.objects.filter(born_on__year=1990)",
        "from django.utils.translation import gettext_lazy as _",
        "from clinic.trail.clock import now\nnow()",
    ],
)
def test_python_passes(text: str) -> None:
    assert list(python.breaches(Path("whitening/recall/rules.py"), text)) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("p { color: #fff; }", "A colour outside tokens.css"),
        ("p { color: rgb(0 0 0); }", "A colour outside tokens.css"),
        ("p { border: var(--line) solid black; }", "A colour outside tokens.css"),
        ("p { margin: 4px; }", "A size outside tokens.css"),
        ("p { transition: opacity 150ms; }", "A duration outside tokens.css"),
        ("p { margin-left: var(--space-2); }", "A physical side"),
        ("p { left: 0; }", "A physical side"),
        ("p { text-align: right; }", "A physical side"),
    ],
)
def test_a_style_is_refused(text: str, sentence: str) -> None:
    found = [each.sentence for each in styles.style_breaches(Path("static/css/page.css"), text)]
    assert any(each.startswith(sentence) for each in found), found


@pytest.mark.parametrize(
    "text",
    [
        "p { color: var(--ink); margin-inline-start: var(--space-2); inset-inline-end: 0; width: 100%; flex: 1 1 0; }",
        "@media (min-width: 48rem) { p { text-align: start; } }",
        "@page { size: A4; margin: 18mm; }",
        "/* 4px of black */ p { grid-template-columns: 1fr 2fr; }",
    ],
)
def test_a_style_passes(text: str) -> None:
    assert list(styles.style_breaches(Path("static/css/page.css"), text)) == []


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("eval(text)", "Text evaluated as code"),
        ("node.style.top = top", "A style set from a script"),
        ("localStorage.setItem('a', b)", "The browser's storage"),
        ("node.innerHTML = text", "Markup built from text"),
    ],
)
def test_a_browser_module_is_refused(text: str, sentence: str) -> None:
    found = [each.sentence for each in styles.browser_breaches(Path("static/js/page.js"), text)]
    assert any(each.startswith(sentence) for each in found), found
