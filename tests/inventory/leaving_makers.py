"""What left the fleet and what goes to another school, for tests, through the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from core.photos import clean_scan
from inventory.models import Disposal, Instrument, InstrumentPaper, Role, Transfer
from inventory.services.disposing import keep_paper, leave_fleet
from inventory.services.transferring import offer_transfer
from tests.factories import NOW, TODAY, make_director, make_instrument, make_school, make_user
from tests.pictures import jpeg


def make_disposal(instrument: Instrument | None = None, **overrides: Any) -> Disposal:
    """Something sold for $40, approved by another director of its school."""
    row = instrument or make_instrument()
    fields: dict[str, Any] = {
        "way": "sold",
        "on": TODAY,
        "because": "Past its life.",
        "value_amount": Decimal(50),
        "at": NOW,
        "approved_by": None,
        "actor": None,
    } | overrides
    fields["actor"] = fields["actor"] or make_director(school=row.school)
    fields["approved_by"] = fields["approved_by"] or make_user(Role.ADMINISTRATOR)
    if fields["way"] in {"sold", "traded_in"}:
        fields.setdefault("proceeds_amount", Decimal(40))
    return leave_fleet(instrument=row, **fields)


def make_transfer(instrument: Instrument | None = None, **overrides: Any) -> Transfer:
    row = instrument or make_instrument()
    fields: dict[str, Any] = {"to_school": None, "accessories": {}, "actor": None, "at": NOW} | overrides
    fields["to_school"] = fields["to_school"] or make_school()
    fields["actor"] = fields["actor"] or make_director(school=row.school)
    return offer_transfer(instrument=row, **fields)


def make_paper_of(disposal: Disposal) -> InstrumentPaper:
    return keep_paper(
        instrument=disposal.instrument, disposal=disposal, title="Bill of sale", scan=clean_scan(jpeg()),
        actor=disposal.actor, at=NOW,
    )  # fmt: skip
