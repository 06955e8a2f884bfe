"""Opens the practice on a fresh installation: its name, first site, whose rules hold there, first manager."""

import sys
from argparse import ArgumentParser
from getpass import getpass
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.forms import Field
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.accounts import jurisdictions
from clinic.accounts.actions.sites import FirstManager, start_practice
from clinic.accounts.forms.start import OPTIONAL, StartForm
from clinic.accounts.models import Practice
from clinic.accounts.refusals import PracticeExists
from clinic.trail.clock import real_now
from clinic.trail.refusals import Refusal


class Command(BaseCommand):
    help = str(
        gettext_lazy("Open the practice. Asks for what the options leave out; --no-input never asks and never guesses.")
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        for name, field in StartForm().fields.items():
            if name != "password":
                parser.add_argument(f"--{name.replace('_', '-')}", help=str(field.label))
        parser.add_argument(
            "--password-file",
            metavar="FILE",
            help=_("file that holds the manager's password, or - for standard input; without it, a link is printed"),
        )
        parser.add_argument("--no-input", action="store_true", help=_("never ask"))

    def handle(self, *args: Any, **options: Any) -> None:
        held = Practice.objects.first()
        if held is not None:
            raise CommandError(str(PracticeExists(name=held.name)))
        asks = not options["no_input"] and sys.stdin.isatty()
        answers = self._answers(options, asks=asks)
        form = StartForm(answers)
        if not form.is_valid():
            raise CommandError("\n".join(_problems(form)))
        manager = FirstManager(
            name=form.cleaned_data["manager_name"],
            email=form.cleaned_data["manager_email"].lower(),
            password=form.cleaned_data["password"],
        )
        try:
            link = start_practice(
                name=form.cleaned_data["practice"],
                slug=form.cleaned_data["slug"],
                details=form.details(),
                manager=manager,
                now=real_now(),
            )
        except Refusal as refusal:
            raise CommandError(str(refusal)) from refusal
        self._report(manager, link)

    def _answers(self, options: dict[str, Any], *, asks: bool) -> dict[str, str]:
        fields = StartForm().fields
        answers = {name: options.get(name) or "" for name in fields}
        answers["password"] = _password_from(options["password_file"])
        if not asks:
            return answers
        self.stdout.write(_("Rules to choose from: %(known)s") % {"known": _known()})
        for name in (one for one in fields if one not in OPTIONAL and not answers[one]):
            answers[name] = _asked(name, fields[name])
        return answers

    def _report(self, manager: FirstManager, link: str) -> None:
        self.stdout.write(self.style.SUCCESS(_("The practice is open.")))
        if link:
            self.stdout.write(_("%(name)s comes in by this link, once, within three days:") % {"name": manager.name})
            self.stdout.write(link)
        else:
            self.stdout.write(_("%(email)s can sign in, and sets up a second factor first.") % {"email": manager.email})
        self.stdout.write(_("What is still missing stands on the Set-up page."))


def _known() -> str:
    return ", ".join(f"{code} ({name})" for code, name in jurisdictions.registered().items())


def _asked(name: str, field: Field) -> str:
    """An empty answer is taken for what can follow later."""
    if name == "password":
        return getpass(_("Password of the manager (nothing: print a link instead): "))
    answer = ""
    while not answer:
        answer = input(f"{field.label}: ").strip()
        if not field.required:
            break
    return answer


def _password_from(source: str | None) -> str:
    if not source:
        return ""
    if source == "-":
        return sys.stdin.readline().rstrip("\n")
    try:
        return Path(source).read_text(encoding="utf-8").rstrip("\n")
    except OSError as error:
        sentence = _("The password file cannot be read: %(reason)s.") % {"reason": error.strerror}
        raise CommandError(sentence) from error


def _problems(form: StartForm) -> list[str]:
    return [
        f"--{name.replace('_', '-')}: {' '.join(str(problem) for problem in problems)}"
        for name, problems in form.errors.items()
    ]
