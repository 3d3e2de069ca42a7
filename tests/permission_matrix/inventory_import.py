from __future__ import annotations

from typing import Any

from inventory.models import School
from inventory.services.importing import begin_import
from tests.factories import NOW, make_director
from tests.inventory.services.importing.makers import make_judged
from tests.permission_matrix import Row

IMPORT = "inventory.import_instruments"
LIST = b"Instrument,Make,Serial\nTpt,Plain Brass Works,100200\nFlute,Plain Brass Works,100201\n"


def batch_pk(school: School) -> tuple[Any, ...]:
    begun = begin_import(school=school, data=LIST, filename="list.csv", actor=make_director(school), at=NOW)
    return (begun.batch.pk,)


def batch_problems(school: School) -> tuple[Any, ...]:
    return (make_judged(school=school).pk, "csv")


ROWS = {
    "inventory:import": Row(IMPORT, own=False),
    "inventory:import-batch": Row(IMPORT, make=batch_pk),
    "inventory:import-columns": Row(IMPORT, make=batch_pk),
    "inventory:import-go-on": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-again": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-answer": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-mend": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-confirm": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-drop": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-forget": Row(IMPORT, make=batch_pk, method="post"),
    "inventory:import-problems": Row(IMPORT, make=batch_problems),
}
