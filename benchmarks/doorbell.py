"""The yardsticks of benchmarks/messages.py: a queue engine with one empty task, and a mail server that takes all.

The mail server is a process of its own: `python -m benchmarks.doorbell PORT`.
"""

import os
import sys
import threading

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session
from celery import Celery

app = Celery("doorbell", broker=os.environ.get("DOORBELL_BROKER", ""))
app.conf.task_ignore_result = True


@app.task(name="benchmarks.ring")
def ring() -> None:
    pass


class Sink:
    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802  (its name)
        return "250 Taken"


def main(port: int) -> None:
    Controller(Sink(), hostname="127.0.0.1", port=port).start()
    threading.Event().wait()


if __name__ == "__main__":
    main(int(sys.argv[1]))
