"""In the background: stored state follows the district's figures, archives of years are made, long lists registered."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Final

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext
from django_tasks import TaskContext, TaskResultStatus, task
from django_tasks_db.models import DBTaskResult

from core.models import Event, LongWork, User
from core.progress import report_progress
from core.queue import LAST
from core.services.long_work import Outcome, finish_work
from desk.archives import archive_year
from desk.forms.listed import ListedForm
from desk.selectors.archives import MADE
from desk.services.listed import Lent, publish_with_loans
from desk.services.recomputing import recompute_all
from inventory.exceptions import RefusedError
from inventory.models import ImportBatch
from inventory.selectors.figures import is_recompute_due, waits_now
from inventory.services.importing import Published
from inventory.tasks import list_of

BECAUSE = "The district's figures changed."

ARCHIVE: Final = "desk.tasks.make_archive"
LISTED: Final = "desk.tasks.register_listed"


@task(takes_context=True)
def reckon(context: TaskContext) -> None:  # this name is in the queue
    """Compute everything again, if it does not follow the figures in force."""
    now = context.task_result.started_at
    if now is not None and is_recompute_due(at=now):
        recompute_all(because=BECAUSE, actor=None, at=now)


def queue_recompute() -> int:
    """Queue it, in the act that sets a figure; how many were queued: none where one waits to be begun."""
    if DBTaskResult.objects.filter(task_path=reckon.module_path, status=TaskResultStatus.READY).exists():
        return 0
    reckon.using(priority=LAST).enqueue()
    return 1


def queue_due_recompute() -> int:
    """Queue it where stored state waits: a figure's day comes without anybody's act, and a try may have failed."""
    return queue_recompute() if waits_now() else 0


def make_archive(row: LongWork, at: datetime) -> Outcome:
    """Make the archive of a year that somebody asked for; once, however often the worker begins it."""
    key = f"{row.pk} {row.queued_at.isoformat()}"
    if not Event.objects.filter(act=MADE, after__task=key).exists():
        first, last = (date.fromisoformat(row.arguments[day]) for day in ("first", "last"))
        archive_year(first=first, last=last, actor=row.person, at=at, task=key)
    return Outcome(url=reverse("desk:archives"))


def latest_archive_work() -> LongWork | None:
    """The archive that is being made or waits to be, else the last that ended, for as long as that is kept."""
    rows = LongWork.objects.filter(function=ARCHIVE)
    return rows.open().first() or rows.order_by("-queued_at").first()


def register_listed(work: LongWork, at: datetime) -> Outcome:
    """Register a long list with its loans. Its end is noted with them, so that another attempt finds it done."""
    batch = list_of(work)
    report_progress(phase=gettext("Reading the list"))
    day = date.fromisoformat(work.arguments["day"])
    form = ListedForm.of(batch, user=work.person, today=day, data=answers_of(work, batch))
    if not form.is_valid():  # somebody of the same name was added, or erased
        raise RefusedError(" ".join(dict.fromkeys(str(error) for errors in form.errors.values() for error in errors)))
    lent = form.lent

    def outcome(published: Published) -> Outcome:
        return Outcome(message=listed_words(published, lent), url=reverse("inventory:import-batch", args=[batch.pk]))

    def end(written: int) -> None:
        if not finish_work(work, at=at, outcome=outcome(Published(written))):
            raise RefusedError(gettext("It was given up. Nothing was saved."))

    published = publish_with_loans(
        batch=batch, lent=lent, vouched=form.vouched, actor=work.person, at=at, today=timezone.localdate(at), also=end
    )
    return outcome(published)


def answers_of(work: LongWork, batch: ImportBatch) -> dict[str, Any]:
    """What was sent of the form."""
    return {**work.arguments["answers"], "cleaned_by": batch.cleaned_by}


def refused_before(batch: ImportBatch, *, user: User) -> LongWork | None:
    """The latest attempt of this person to register the list, where it failed."""
    rows = LongWork.objects.visible_to(user).filter(function=LISTED, arguments__batch=batch.pk)
    last = rows.order_by("-queued_at", "-pk").first()
    return last if last is not None and last.is_failed else None


def listed_words(published: Published, lent: Lent) -> str:
    """What was saved; loans of instruments that were registered before are counted apart."""
    if published.is_repeated:
        return gettext("This list has already been imported. Nothing was added.")
    written = published.written
    registered = sum(one.instrument is not None for one in lent.out)
    new = len(lent.out) - registered
    sentences = []
    if written:
        out = ngettext("%(count)d of them is out", "%(count)d of them are out", new) % {"count": new}
        words = ngettext("%(count)d instrument registered", "%(count)d instruments registered", written)
        sentences.append(f"{words % {'count': written}}; {out}." if new else f"{words % {'count': written}}.")
    if registered:
        words = ngettext(
            "%(count)d instrument that was registered before is out now.",
            "%(count)d instruments that were registered before are out now.",
            registered,
        )
        sentences.append(words % {"count": registered})
    return " ".join(sentences)
