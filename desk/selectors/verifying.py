"""Compare what is stored with what follows from the facts. Writes nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from django.db.models import F

from core.events import broken_links
from core.log_guard import missing_guards
from core.revisions import row_differences, text_differences
from core.stored_files import file_differences
from core.traces import log_differences
from inventory.guard import SCHOOL_GUARD
from inventory.models import Custody, Instrument, Whereabouts
from inventory.selectors.state import stored_differences
from loans.models import Loan, Loss
from loans.selectors.ledger import ledger_differences
from repairs.models import Job, PartsInstrument
from repairs.selectors.approvals import approval_differences
from repairs.selectors.care import care_differences
from repairs.selectors.decisions import retired_differences
from repairs.selectors.donors import taken_differences
from repairs.selectors.shops import order_differences
from repairs.selectors.stock import stock_differences


def difference_words(instrument: Instrument, wrong: Mapping[str, Any]) -> list[str]:
    """A sentence for each stored column that does not match the facts."""
    return [
        f"{instrument.asset_number}: {name} is {getattr(instrument, name)!r}, the facts say {value!r}"
        for name, value in wrong.items()
    ]


def whereabouts_differences() -> Iterator[str]:
    """Whereabouts against the open custody span, the open loan, the open job and the open case of a loss."""
    spans = dict(Custody.objects.filter(until=None).values_list("instrument_id", "whereabouts"))
    lent = set(Loan.objects.open().values_list("instrument_id", flat=True))
    lost = set(Loss.objects.open().values_list("loan__instrument_id", flat=True))
    jobs = set(Job.objects.open().values_list("instrument_id", flat=True))
    for pk, number, where in Instrument.objects.values_list("pk", "asset_number", "whereabouts"):
        if spans.get(pk) != where:
            yield f"{number}: whereabouts is {where}, its open custody says {spans.get(pk)}"
        is_searched_for = pk in lost and where == Whereabouts.NOT_FOUND
        if (pk in lent) != (where == Whereabouts.WITH_STUDENT) and not is_searched_for:
            yield f"{number}: whereabouts is {where}, but {'a' if pk in lent else 'no'} loan is open"
        if pk not in jobs and where == Whereabouts.ON_BENCH:
            yield f"{number}: whereabouts is on_bench, but no job is open"


def loan_differences() -> Iterator[str]:
    """What is out is at the school that lent it."""
    elsewhere = Loan.objects.open().exclude(instrument__school=F("school"))
    for loan in elsewhere.select_related("instrument__school", "school").order_by("pk"):
        instrument, lender = loan.instrument, loan.school
        yield f"{instrument.asset_number}: is lent by {lender}, and is at {instrument.school}; {lender} takes it back"


def parts_instrument_differences() -> Iterator[str]:
    """The column that says kept for parts, against the current row."""
    rows = set(PartsInstrument.objects.standing().values_list("instrument_id", flat=True))
    for pk, number, is_kept in Instrument.objects.values_list("pk", "asset_number", "is_parts_instrument"):
        if is_kept != (pk in rows):
            article = "a" if pk in rows else "no"
            yield f"{number}: is_parts_instrument is {is_kept}, but {article} parts instrument stands"


CHECKS: tuple[Callable[[], Iterable[str]], ...] = (
    whereabouts_differences, loan_differences, order_differences, approval_differences, parts_instrument_differences,
    retired_differences, stock_differences, row_differences, text_differences, broken_links, missing_guards,
    SCHOOL_GUARD.missing, ledger_differences, log_differences, file_differences,
)  # fmt: skip


def differences(*, is_computed: bool = True) -> tuple[int, list[str]]:
    """How many instruments were checked, and every difference found, the event chain's among them.

    ``is_computed`` is false while the district's figures have changed and stored verdicts, readiness and days of care
    are still to follow: they differ then, and nothing is broken.
    """
    found: list[str] = []
    if is_computed:
        for instrument, wrong in stored_differences(Instrument.objects.all()):
            found.extend(difference_words(instrument, wrong))
        found.extend(words for _, words in care_differences())
    found.extend(words for _, words in taken_differences())
    found.extend(words for check in CHECKS for words in check())
    return Instrument.objects.count(), found
