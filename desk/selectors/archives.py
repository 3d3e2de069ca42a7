"""What goes into the archive of a year: its entries, the register as it was known, its loans, the hashes of its papers.

No student's name, no donor's, no contact: a loan names its student by the number of the record alone, and what somebody
typed into a note stays out.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext

from core.events import NO_HASH, content_of
from core.models import Event, Revision
from core.progress import report_progress
from core.revisions import kept_of
from core.sheets import OutValue
from desk.selectors.value import written_on
from inventory.catalog.load import catalog
from inventory.models import Instrument, School
from inventory.selectors.past import LABEL, after
from loans.models import Addendum, Agreement, Loan

MADE = "archive_made"
AT_ONCE = 2000
WRITTEN = ("maker", "model", "serial")
HASHES = ("pdf_sha256", "scan_sha256", "student_signature_sha256", "guardian_signature_sha256")


@dataclass(frozen=True, slots=True)
class Stretch:
    """The entries that were made in a year, without a gap: from which number on, how many, and the hashes at both ends."""

    first: int
    count: int
    previous_hash: str
    hash: str

    @property
    def last(self) -> int:
        return self.first + self.count - 1


def stretch_of(first: date, last: date) -> Stretch:
    """The entries of a year, in the order of the log: from its first entry to the last before the next year's first.

    So an entry of the year that a clock set back gave an earlier moment is among them.
    """
    begins = _first_since(after(first - timedelta(days=1)))
    ends = _first_since(after(last))
    last_number = ends - 1 if ends else Event.objects.newest_first().values_list("number", flat=True).first() or 0
    number = begins or last_number + 1
    return Stretch(number, max(0, last_number - number + 1), _hash_of(number - 1), _hash_of(last_number))


def _first_since(moment: datetime) -> int:
    rows = Event.objects.filter(at__gte=moment).order_by("number")
    return rows.values_list("number", flat=True).first() or 0


def _hash_of(number: int) -> str:
    return Event.objects.filter(number=number).values_list("hash", flat=True).first() or NO_HASH


def event_lines(stretch: Stretch) -> Iterator[bytes]:
    """Each entry as one line of JSON: what its hash covers, that hash, and the one before."""
    number = stretch.first
    while number <= stretch.last:
        some = Event.objects.filter(number__range=(number, min(stretch.last, number + AT_ONCE - 1))).order_by("number")
        lines = [content_of(one) | {"previous_hash": one.previous_hash, "hash": one.hash} for one in some]
        yield b"".join(json.dumps(line, sort_keys=True).encode() + b"\n" for line in lines)
        number += AT_ONCE
        report_progress(min(number - stretch.first, stretch.count), stretch.count, phase=gettext("Event log"))


def written_until(number: int) -> Callable[[Iterable[int]], dict[int, tuple[str, ...]]]:
    """Return what gives maker, model and serial of instruments as they were when the log ended with this entry.

    A name that was taken out since stays out.
    """

    def written(keys: Iterable[int]) -> dict[int, tuple[str, ...]]:
        found = {key: dict(zip(WRITTEN, texts, strict=True)) for key, texts in written_on(list(keys)).items()}
        rows = Revision.objects.filter(thread__in=list(found), subject_type=LABEL, column__in=WRITTEN)
        rows = rows.filter(number__gt=number).exclude(salt="")
        corrections = Event.objects.filter(number__in=rows.values("number"), act__in=kept_of(Instrument).corrects)
        numbers = set(corrections.values_list("number", flat=True))
        for row in rows.order_by("-number"):
            if row.number in numbers and row.thread in found:
                found[row.thread][row.column] = row.before
        return {key: tuple(texts[name] for name in WRITTEN) for key, texts in found.items()}

    return written


LOAN_HEADER = (
    "Loan", "Asset number", "Kind", "School", "Student record", "Lent on", "Due on", "Returned on", "Ended as lost",
    "Undone", "Agreement",
)  # fmt: skip


def loan_rows(first: date, last: date) -> Iterator[tuple[OutValue, ...]]:
    """The loans that were open on a day of the year. What came after the year is left out: it was still open."""
    until = after(last)
    open_in_it = Q(returned_at=None) | Q(returned_at__gte=after(first - timedelta(days=1)))
    rows = Loan.objects.filter(open_in_it, lent_at__lt=until).select_related("instrument", "agreement").order_by("pk")
    names, trade = _school_names(), catalog()
    for loan in rows.iterator(AT_ONCE):
        ended = loan.returned_at is not None and loan.returned_at < until
        signed = getattr(loan, "agreement", None)
        is_signed = signed is not None and signed.signed_at < until
        yield (
            loan.pk, loan.instrument.asset_number, trade.kind(loan.instrument.kind_code).name,
            names.get(loan.school_id, ""), loan.student_id, loan.lent_on, loan.due_on,
            timezone.localdate(loan.returned_at) if ended and loan.returned_at else None, loan.is_lost and ended,
            loan.undone_at is not None and loan.undone_at < until, str(signed.get_signed_display()) if is_signed and signed else "",
        )  # fmt: skip


PAPER_HEADER = ("Paper", "Loan", "School", "Signed or written on", "File", "SHA-256", "File still kept")


def paper_rows(first: date, last: date) -> Iterator[tuple[OutValue, ...]]:
    """The hash of each file of an agreement signed in the year, or an addendum written in it."""
    names = _school_names()
    year = (after(first - timedelta(days=1)), after(last))
    agreements = Agreement.objects.filter(signed_at__gte=year[0], signed_at__lt=year[1]).select_related("loan")
    for one in agreements.order_by("pk").iterator(AT_ONCE):
        yield from _hashes("Agreement", one, loan=one.loan, names=names, on=timezone.localdate(one.signed_at))
    addenda = Addendum.objects.filter(written_at__gte=year[0], written_at__lt=year[1]).select_related("agreement__loan")
    for other in addenda.order_by("pk").iterator(AT_ONCE):
        on = timezone.localdate(other.written_at)
        yield from _hashes("Addendum", other, loan=other.agreement.loan, names=names, on=on)


def _hashes(
    paper: str, row: Agreement | Addendum, *, loan: Loan, names: Mapping[int, str], on: date
) -> Iterator[tuple[OutValue, ...]]:
    for column in HASHES:
        if digest := getattr(row, column, ""):
            file = column.removesuffix("_sha256")
            label = {"pdf": "signed paper"}.get(file, file.replace("_", " "))
            yield paper, loan.pk, names.get(loan.school_id, ""), on, label, digest, bool(getattr(row, file))


def _school_names() -> dict[int, str]:
    return dict(School.objects.values_list("pk", "name"))


def archives_made() -> list[Event]:
    """The archives that were made, the newest first."""
    return list(Event.objects.filter(act=MADE).newest_first().select_related("actor"))
