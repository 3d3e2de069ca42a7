"""What happened to a stock item, and what jobs lack, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from repairs.models import StockItem, StockMove
from repairs.rules.quantities import quantity_words, use_words
from repairs.rules.shopping import Held
from repairs.selectors.planning import JobState
from repairs.selectors.stock import StockLine, parts_out_of_stock

SHOWN = 40
STOCK_HEADER = (
    _("Item"), _("Unit"), _("On hand"), _("Planned"), _("Keep at least"), _("Price each"), _("Place"), _("Supplier"),
    _("Part number"),
)  # fmt: skip
Why = StockMove.Why


def stock_rows(lines: Iterable[StockLine]) -> Iterator[tuple[OutValue, ...]]:
    """What a bench keeps, as the lines of a file."""
    for line in lines:
        item = line.item
        yield (
            capfirst(f"{item} ({item.fits})" if item.fits else str(item)), item.shown_unit, item.quantity, line.reserved,
            item.reorder_level, item.each_amount, item.place, item.supplier, item.part_number,
        )  # fmt: skip


def moves_of(item: StockItem) -> list[dict[str, Any]]:
    """Return the latest moves, latest first, each with what took it back. One query."""
    rows = item.moves.select_related(
        "actor", "attempt__job__instrument", "reverses", "reversed_by__actor",
        "moved_from__item__bench", "moved_to__item__bench",
    )  # fmt: skip
    shown = list(rows[:SHOWN])
    # what a count has put right since is not reversed
    counted = next((move.pk for move in shown if move.why == Why.COUNTED and move.reversal is None), 0)
    return [
        {
            "move": move,
            "what": move_words(move, item=item),
            "left": quantity_words(move.after_quantity, unit=item.shown_unit),
            "reversal": move.reversal,
            "may_reverse": move.reversal is None
            and move.why not in (Why.REVERSED, Why.MOVED)
            and move.pk >= counted
            and not item.retired_at,
        }
        for move in shown
    ]


def lacks_words(lacks: Sequence[tuple[Held, Decimal]]) -> str:
    """Say what is not there for a job: "a little valve oil, 2 pads"."""
    return ", ".join(use_words(much, unit=thing.unit, name=thing.name) for thing, much in lacks)


def out_of_stock(states: Sequence[JobState]) -> dict[int, str]:
    """Say by its key what each job needs that is not in stock, whoever else needs it. One query."""
    return {pk: lacks_words(lacks) for pk, lacks in parts_out_of_stock(states).items()}


def move_words(move: StockMove, *, item: StockItem) -> str:
    """Say "Received 6 bottles", "Moved 2 bottles to North shop"."""
    values = {"quantity": quantity_words(abs(move.quantity), unit=item.shown_unit)}
    if move.why == Why.COUNTED:
        change = quantity_words(move.quantity, unit=item.shown_unit)
        words = gettext("Counted %(left)s, %(change)s") if move.quantity else gettext("Counted %(left)s, as on record")
        left = quantity_words(move.after_quantity, unit=item.shown_unit)
        return words % {"left": left, "change": f"+{change}" if move.quantity > 0 else change}
    if move.why == Why.MOVED:
        out = getattr(move, "moved_to", None)
        words = gettext("Moved %(quantity)s to %(bench)s") if out else gettext("Moved %(quantity)s here from %(bench)s")
        other = out or move.moved_from
        return words % {**values, "bench": other.item.bench if other else gettext("another bench")}
    if move.why == Why.REVERSED and move.reverses:
        return gettext("Reversed: %(what)s") % {"what": move_words(move.reverses, item=item)}
    words = gettext("Received %(quantity)s") if move.why == Why.RECEIVED else gettext("Used %(quantity)s")
    return words % values
