"""The same as /health/ says, with what waits and how old it is; red ends with an error."""

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.messages.health import look
from clinic.trail.clock import now, real_now
from whitening.recall import status
from whitening.recall.status import Line


class Command(BaseCommand):
    help = str(gettext_lazy("Say whether messages and follow-ups go on, how many wait, and since when."))
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        at = now()
        seen = look(now=at, real_now=real_now())
        for name, age in seen.silences.items():
            self.stdout.write(f"{name}: {_age(age) if age is not None else _('never came round')}")
        self._say(_("Messages"), list(status.messages(at)))
        self._say(_("Follow-ups"), list(status.follow_ups(at)))
        worry = status.worries(at)
        self._say(_("Worrying answers"), [worry] if worry else [])
        if seen.is_red:
            raise CommandError(_("Red: what is due does not go out as it should. docs/deploy.md says where to look."))
        self.stdout.write(self.style.SUCCESS(_("Green.")))

    def _say(self, title: str, lines: list[Line]) -> None:
        self.stdout.write(f"{title}: {_('none waits') if not lines else ''}".rstrip())
        for line in lines:
            name = f"{line.what}: " if line.what else ""
            self.stdout.write(f"  {name}{line.count}, {_due(line.late)}")


def _due(late: timedelta) -> str:
    if late < timedelta(0):
        return _("the first one due in %(time)s") % {"time": _age(-late)}
    return _("the oldest due %(time)s ago") % {"time": _age(late)}


def _age(age: timedelta) -> str:
    days, seconds = age.days, age.seconds
    hours, minutes = divmod(seconds // 60, 60)
    if days:
        return _("%(days)d d %(hours)d h") % {"days": days, "hours": hours}
    if hours:
        return _("%(hours)d h %(minutes)d min") % {"hours": hours, "minutes": minutes}
    return _("%(minutes)d min") % {"minutes": minutes} if minutes else _("%(seconds)d s") % {"seconds": seconds}
