"""What somebody says of a list before it is confirmed: what a loose word means, how its dates are read, a row put right."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.models import User
from inventory.catalog.load import catalog
from inventory.columns import LOOSE_KINDS
from inventory.exceptions import RefusedError
from inventory.models import ImportBatch
from inventory.rules.intake.parse.dates import DateOrder
from inventory.rules.intake.row import LONGEST_TEXT
from inventory.services.importing.staging import log, start_judging

ORDERS = (DateOrder.MONTH_DAY, DateOrder.DAY_MONTH)


@service
def answer_list(
    *, batch: ImportBatch, kinds: Mapping[str, str], orders: Mapping[int, str], actor: User | None, at: datetime
) -> None:
    """Say which kind each loose word means and which order a column's dates have; every row is judged afresh."""
    if unknown := [word for word, code in kinds.items() if word not in LOOSE_KINDS or code not in catalog().kinds]:
        raise RefusedError(gettext("Choose a kind from the list for “%(word)s”.") % {"word": unknown[0]})
    if set(orders.values()) - {*ORDERS}:
        raise RefusedError(gettext("Choose whether the month or the day comes first."))
    said = {"kinds": dict(kinds), "orders": {str(index): order for index, order in orders.items()}}
    _answer(batch, said, act="import_answered", actor=actor, at=at)


@service
def mend_rows(*, batch: ImportBatch, cells: Mapping[int, Mapping[int, str]], actor: User | None, at: datetime) -> None:
    """Put cells of rows in other words, by the row's number and the column's index; every row is judged afresh.

    The file as it was sent does not change: what was typed lies over it.
    """
    if any(len(text) > LONGEST_TEXT for row in cells.values() for text in row.values()):
        raise RefusedError(gettext("Shorten it to %(most)d characters.") % {"most": LONGEST_TEXT})
    typed = {str(row): {str(index): text for index, text in some.items()} for row, some in cells.items()}
    _answer(batch, {"rows": typed}, act="import_rows_mended", actor=actor, at=at)


def keep_cleaner(*, batch: ImportBatch, cleaned_by: str) -> None:
    """Keep what was typed until the worker registers the list: work that waits holds keys and codes alone."""
    ImportBatch.objects.filter(pk=batch.pk, state=ImportBatch.State.JUDGED).update(cleaned_by=cleaned_by)


def _answer(
    batch: ImportBatch, said: Mapping[str, Mapping[str, Any]], *, act: str, actor: User | None, at: datetime
) -> None:
    row = lock_row(batch)
    if not row.mapping:
        raise RefusedError(gettext("Choose the columns first."))
    answers = dict(row.answers)
    for part, new in said.items():
        earlier = answers.get(part, {})
        answers[part] = earlier | {
            key: earlier.get(key, {}) | one if isinstance(one, dict) else one for key, one in new.items()
        }
    start_judging(batch=row, mapping=row.mapping, asked=row.asked | {"kinds": {}}, answers=answers)
    log(batch=row, act=act, actor=actor, at=at, rows=len(said.get("rows", ())) or None)
