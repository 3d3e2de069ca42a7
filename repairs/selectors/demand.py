"""Which instruments a student waits for. Repairs know no students: the app that knows both sets the answer."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from collections.abc import Set as AbstractSet
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal

from core.hooks import Hook
from inventory.catalog.load import catalog
from inventory.models import Instrument
from repairs.rules.waiting import Group

who_waits: Hook[[Collection[Group]], AbstractSet[Group]] = Hook()  # for which of them a student is waiting
_asked: ContextVar[tuple[frozenset[Group], frozenset[Group]] | None] = ContextVar("who_waits", default=None)


def group_of(instrument: Instrument) -> Group:
    return instrument.school_id, instrument.kind_code


def waited_for(groups: Collection[Group]) -> frozenset[Group]:
    """Return the groups a student waits for. One query."""
    wanted = frozenset(groups)
    asked, waiting = _asked.get() or (frozenset(), frozenset())
    if wanted <= asked:
        return wanted & waiting
    return frozenset(who_waits(wanted)) if wanted else frozenset()


@contextmanager
def asked_together(groups: Collection[Group]) -> Iterator[None]:
    """Ask once for many schools; within, ``waited_for`` knows the answer."""
    wanted = frozenset(groups)
    token = _asked.set((wanted, waited_for(wanted)))
    try:
        yield
    finally:
        _asked.reset(token)


def somebody_waits_for(instrument: Instrument) -> bool:
    """Whether a student waits for one of its kind at its school. One query."""
    return bool(waited_for({group_of(instrument)}))


def waiting_day_amount(*, is_waited_for: bool) -> Decimal:
    """Return dollars: what a day of waiting weighs in the order of tries."""
    return Decimal(str(catalog().settings["waiting_day_amount"])) if is_waited_for else Decimal(0)
