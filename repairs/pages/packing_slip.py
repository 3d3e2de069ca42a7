"""What goes into the case with an instrument: for the shop, and nothing about a student or a donor."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from inventory.pages.drawing import found_lines, marks_of
from inventory.selectors.labels import tag_addresses
from inventory.selectors.setup import district_name
from inventory.selectors.standing import standings_of
from repairs.models import ShopOrder
from repairs.pages.orders import named_findings, not_in_question
from repairs.pages.shops import work_name
from repairs.rules.shops import allowed_amount
from repairs.selectors.orders import order_findings, photos_of
from repairs.selectors.shops import limits_today

MOST_PHOTOS = 4


def is_said(order: ShopOrder) -> bool:
    """Whether the question begins with the name of the work."""
    return order.question.lower().startswith(work_name(order.work).lower())


def slips_of(orders: Sequence[ShopOrder], *, home: str, today: date) -> list[dict[str, Any]]:
    """Return a slip for each order, numbered as one of so many."""
    standings = standings_of([order.instrument for order in orders])
    findings, photos = order_findings(orders), photos_of(orders)
    tags = tag_addresses([order.instrument_id for order in orders], home=home)
    district, limits = district_name(), limits_today()
    slips = []
    for number, order in enumerate(orders, start=1):
        rows = findings[order.pk]
        parts = {row.part for row in rows}
        standing = standings[order.instrument_id]
        marks = {part: mark for part, mark in marks_of(standing).items() if part in parts}
        words, unasked = dict(named_findings(order.instrument, rows)), dict(not_in_question(order, rows))
        drawn = [row for row in rows if row.part in marks]
        slips.append(
            {
                "order": order,
                "number": number,
                "count": len(orders),
                "district": district,
                "work": "" if is_said(order) else work_name(order.work),
                "findings": [unasked[row.pk] for row in rows if row.pk in unasked and row not in drawn],
                "marks": marks,
                "found": found_lines(standing, order.instrument.kind, [(row.fact, words[row.pk]) for row in drawn]),
                "photos": [one for one in photos.get(order.instrument_id, ()) if one.part in parts][:MOST_PHOTOS],
                "allowed": allowed_amount(order.money, limits),
                "accessories": [  # as last counted
                    (str(row), row.expected if row.present is None else row.present)
                    for row in order.instrument.accessories.all()
                    if row.present != 0
                ],
                "tag_url": tags.get(order.instrument_id, ""),
                "made_on": today,
            }
        )
    return slips
