"""In the background: the rows of a long list are read, checked and saved. Each goes on, or does nothing, a second time."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from core.models import LongWork, LongWorkQuerySet, User
from core.services.long_work import Outcome
from inventory.exceptions import RefusedError
from inventory.models import ImportBatch
from inventory.selectors.importing import batches_for
from inventory.services.importing import judge_more, publish_import, read_list

READ, CHECK, REGISTER = (f"{__name__}.{name}" for name in ("read_rows", "check_rows", "register_rows"))
MOST_ROUNDS: Final = 10  # of checking from the start, where somebody changes the columns meanwhile


def read_rows(work: LongWork, at: datetime) -> Outcome:
    return _opens(read_list(batch=list_of(work), actor=work.person, at=at))


def check_rows(work: LongWork, at: datetime) -> Outcome:
    batch = list_of(work)
    for _ in range(MOST_ROUNDS):
        batch = judge_more(batch=batch, today=timezone.localdate(at))
        if batch.state != ImportBatch.State.READING:
            break
    return _opens(batch)


def register_rows(work: LongWork, at: datetime) -> Outcome:
    batch = list_of(work)
    publish_import(batch=batch, actor=work.person, at=at, today=timezone.localdate(at))
    return _opens(batch, message=registered_words(batch.rows_new))


def registered_words(count: int) -> str:
    words = ngettext(
        "Imported %(count)d instrument, with a tag to print.",
        "Imported %(count)d instruments, each with a tag to print.",
        count,
    )
    return words % {"count": count}


def work_on(batch: ImportBatch, *, user: User) -> LongWorkQuerySet:
    """What the worker does with a list for this person."""
    return LongWork.objects.visible_to(user).open().filter(arguments__batch=batch.pk)


def list_of(work: LongWork) -> ImportBatch:
    batch: ImportBatch | None = batches_for(work.person).filter(pk=work.arguments["batch"]).first()
    if batch is None:  # discarded, or the role went
        raise RefusedError(gettext("This list is no longer open. Send it again."))
    return batch


def _opens(batch: ImportBatch, *, message: str = "") -> Outcome:
    return Outcome(message=message, url=reverse("inventory:import-batch", args=[batch.pk]))
