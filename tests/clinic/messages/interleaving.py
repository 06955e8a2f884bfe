"""Run as a program of its own: two sessions of PostgreSQL about one message that went astray, or waits as a letter.

`settle_call | send_again | see_to | make_batch | print_batch | post_batch | put_back | ask_new_link`: a colleague holds
the patient, as whoever notes a death does, and comes to the message or its call only once we have begun. Every
statement of both is made by hand, one after the other.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import re
import sys
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import django

django.setup()

import psycopg  # noqa: E402  (models exist only now)
from django.db import connection, transaction  # noqa: E402

from clinic.messages import links  # noqa: E402
from clinic.messages.actions import asking, byhand, posting  # noqa: E402
from clinic.messages.models import Call, DueMessage, LetterBatch, Outcome, PrivateLink, State, Why  # noqa: E402
from clinic.messages.own import PREFERENCES  # noqa: E402
from clinic.messages.posting import draw  # noqa: E402
from clinic.patients.models import Patient  # noqa: E402
from clinic.trail.refusals import Refusal  # noqa: E402
from tests.cast import NOW, Cast, open_practice  # noqa: E402
from tests.support import database_contents  # noqa: E402

CALL, MESSAGE, PATIENT = Call._meta.db_table, DueMessage._meta.db_table, Patient._meta.db_table
# What the colleague does meanwhile: notes how the call went, or the mail provider reports that it arrived.
CALLED = f"UPDATE {CALL} SET settled_at = now(), settled_by = 'A colleague', outcome = 'reached'"  # noqa: S608
ARRIVED = f"UPDATE {MESSAGE} SET state = 'delivered'"  # noqa: S608
MEANWHILE = {"see_to": ARRIVED}
LETTERS = ["make_batch", "print_batch", "post_batch", "put_back"]
# Ours waits at most so long for somebody, and then says so.
LOCK_TIMEOUT = "SET lock_timeout = '5s'"


def prepare(what: str) -> tuple[Cast, DueMessage]:
    cast = open_practice()
    message = DueMessage.objects.create(
        site=cast.fernbrook,
        patient=cast.patient,
        subject_kind="booking",
        subject_id=1,
        kind="visit_confirmed",
        state=State.FAILED,
        due_at=NOW,
        not_after=NOW,
        planned_at=NOW,
    )
    if what != "see_to":
        call = Call(site=cast.fernbrook, patient=cast.patient, message=message, why=Why.FAILED, wanted_at=NOW)
        if what in LETTERS:
            call.why, call.post_by = Why.PREFERS, NOW + timedelta(days=2)
        if what in LETTERS[1:]:
            call.batch = LetterBatch.objects.create(site=cast.fernbrook, made_at=NOW, made_by="Dana Popescu")
        call.save()
    if what == "ask_new_link":
        about: dict[str, Any] = {"purpose": PREFERENCES, "subject_id": cast.patient.pk}
        with transaction.atomic():
            links.make(patient=cast.patient, site=cast.fernbrook, now=NOW, **about)
    return cast, message


def press(what: str, cast: Cast, message: DueMessage) -> None:
    given: dict[str, Any] = {"user": cast.desk, "actor": cast.desk.actor, "now": NOW}
    if what == "settle_call":
        byhand.settle_call(call=message.call, outcome=Outcome.WRONG_NUMBER, **given)
    elif what == "send_again":
        byhand.send_again(message=message, **given)
    elif what == "make_batch":
        posting.make_batch(site=cast.fernbrook, **given)
    elif what in LETTERS:
        deed = {"print_batch": draw, "post_batch": posting.post_batch, "put_back": posting.put_back}[what]
        deed(batch=LetterBatch.objects.get(), **given)
    elif what == "ask_new_link":
        asking.ask_new_link(link=PrivateLink.objects.select_related("patient", "site").get(), now=NOW)
    else:
        byhand.see_to(message=message, called=True, **given)


def meet(what: str, home: str, name: str) -> dict[str, Any]:
    cast, message = prepare(what)
    colleague = psycopg.connect(host=home, dbname=name, user="postgres")
    colleague.execute(f"SELECT id FROM {PATIENT} WHERE id = {cast.patient.pk} FOR UPDATE")  # noqa: S608
    steps = ["the colleague holds the patient"]

    def step(execute: Callable[..., Any], sql: str, params: object, many: bool, context: object) -> object:
        # A new row too is waited for, by whoever writes the same.
        locks = "FOR UPDATE" in sql or "FOR NO KEY UPDATE" in sql or sql.startswith(("UPDATE", "INSERT"))
        first = re.search(r'(?:FROM|UPDATE|INTO) "(\w+)"', sql)
        wanted = [table for table in (PATIENT, MESSAGE, CALL) if locks and first and first[1] == table]
        if wanted:
            steps.append(f"we want {wanted[0]}")
        if wanted[:1] == [PATIENT] and len(steps) == 2:
            colleague.execute(MEANWHILE.get(what, CALLED))
            colleague.commit()
            steps.append("the colleague is through")
        return execute(sql, params, many, context)

    with connection.cursor() as cursor:
        cursor.execute(LOCK_TIMEOUT)
    colleague.execute("SET lock_timeout = '5s'")
    told = ""
    before = database_contents()
    with connection.execute_wrapper(step):
        try:
            press(what, cast, message)
        except Refusal as refusal:
            told = refusal.code
    after = database_contents()
    colleague.close()
    return {
        "steps": steps,
        "told": told,
        "changed": [table for table in before if before[table] != after[table]],
        "outcomes": list(Call.objects.values_list("outcome", flat=True)),
    }


if __name__ == "__main__":
    json.dump(meet(*sys.argv[1:]), sys.stdout)
