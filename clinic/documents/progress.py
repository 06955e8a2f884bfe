"""How far a long check is."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from django.utils.translation import gettext as _
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn


@contextmanager
def progress(console: Console, total: int, *, title: str) -> Iterator[Callable[[int], None]]:
    """A bar on a screen; in a log, a line at each tenth."""
    if console.is_terminal:
        columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
        with Progress(*columns, console=console, transient=True) as bar:
            task = bar.add_task(title, total=total)
            yield lambda done: bar.update(task, completed=done)
        return
    step = max(total // 10, 1)

    def tell(done: int) -> None:
        if total >= 10 and done % step == 0:
            console.print(_("%(done)d of %(total)d") % {"done": done, "total": total})

    yield tell
