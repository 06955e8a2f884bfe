"""Run as a program of its own: two sessions of PostgreSQL about one case. See test_joined_meanwhile.py.

A colleague joins two records, and has pointed the case at the kept one; we want the case, wait, and are let through.
"""

import clinic.config.zones  # noqa: F401  (first: before anything imports zoneinfo)

# isort: split
import json
import sys
import threading

import django

django.setup()

import psycopg  # noqa: E402  (models exist only now)
from django.db import transaction  # noqa: E402

from tests.cast import open_practice  # noqa: E402
from tests.clinic.patients.twice import second_record  # noqa: E402
from tests.whitening.chairside import chairs  # noqa: E402
from whitening.cases.actions import hold_open  # noqa: E402
from whitening.cases.models import Case  # noqa: E402

SECONDS = 1.5


def meet(home: str, name: str) -> dict[str, object]:
    cast = open_practice()
    case, kept = chairs.a_case(cast), second_record(cast)
    colleague = psycopg.connect(host=home, dbname=name, user="postgres")
    move = f"UPDATE {Case._meta.db_table} SET patient_id = %s WHERE id = %s"  # noqa: S608
    colleague.execute(move, [kept.pk, case.pk])
    through = threading.Timer(SECONDS, colleague.commit)
    through.start()
    with transaction.atomic():
        held = hold_open(case)
    through.join()
    colleague.close()
    return {"held": held.patient_id, "kept": kept.pk, "is_read_with_it": held.patient.pk == kept.pk}


if __name__ == "__main__":
    json.dump(meet(*sys.argv[1:]), sys.stdout)
