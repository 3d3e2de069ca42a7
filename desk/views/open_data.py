"""What another program gets of a row: codes beside words, no free text and no person.

The classes are the schemas of the API's own description, so that what is sent and what is described are one thing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Annotated, Generic, TypeVar

from django.utils.timezone import localdate
from ninja import Schema
from pydantic import Field, PlainSerializer

from core.money import cents
from desk.selectors.value import Valued
from inventory.catalog.load import catalog
from inventory.models import Instrument, School
from inventory.rules.readiness import AT_HAND
from loans.models import Loan
from repairs.models import Job

Item = TypeVar("Item")
Dollars = Annotated[
    Decimal,
    PlainSerializer(lambda amount: str(cents(amount)), return_type=str),
    Field(description="dollars with two places, as a string", json_schema_extra={"pattern": r"^-?\d+\.\d\d$"}),
]
OWN = "as the district numbers its instruments"


class Page(Schema, Generic[Item]):
    items: list[Item]
    next: str | None = Field(description="ask again with after= this; null at the end")


class Problem(Schema):
    detail: str


class SchoolOut(Schema):
    code: str
    name: str
    rooms: list[str]

    @staticmethod
    def of(school: School) -> SchoolOut:
        return SchoolOut(code=school.code, name=school.name, rooms=[room.name for room in school.rooms.all()])


class InstrumentOut(Schema):
    asset_number: str = Field(description=OWN)
    kind: str = Field(description="code of the kind")
    kind_name: str
    level: str
    maker: str
    model: str
    serial: str
    year_made: int | None
    school: str = Field(description="code of the school")
    room: str
    whereabouts: str
    acquired_by: str
    acquired_on: date | None
    registered_on: date

    @staticmethod
    def of(row: Instrument) -> InstrumentOut:
        return InstrumentOut(
            **{name: getattr(row, name) for name in PLAIN},
            kind=row.kind_code,
            kind_name=row.kind.name,
            school=row.school.code,
            room=row.room.name if row.room else "",
            registered_on=localdate(row.registered_at),
        )


PLAIN = (
    "asset_number", "level", "maker", "model", "serial", "year_made", "whereabouts", "acquired_by", "acquired_on",
)  # fmt: skip


class FindingOut(Schema):
    part: str
    part_name: str
    fault: str
    fault_name: str
    severity: str


class ConditionOut(Schema):
    asset_number: str = Field(description=OWN)
    verdict: str
    readiness: str | None = Field(description="null while it is not at hand")
    stays_in_because: list[str] = Field(description="codes of the reasons")
    ready_until: date | None = Field(description="the day its inspection ages out")
    inspected_on: date | None
    findings: list[FindingOut] = Field(description="open findings of finished inspections")

    @staticmethod
    def of(row: Instrument) -> ConditionOut:
        is_at_hand = row.whereabouts in AT_HAND
        return ConditionOut(
            asset_number=row.asset_number,
            verdict=row.verdict,
            readiness=row.readiness_today if is_at_hand else None,  # type: ignore[attr-defined]  # annotated
            stays_in_because=[reason["code"] for reason in row.readiness_reasons] if is_at_hand else [],
            ready_until=row.ready_until,
            inspected_on=localdate(row.inspected_at) if row.inspected_at else None,
            findings=list(_findings(row)),
        )


def _findings(row: Instrument) -> Iterable[FindingOut]:
    trade, names = catalog(), {part.code: part.name for part in row.parts}
    for finding in row.standing:  # type: ignore[attr-defined]  # prefetched
        fault = trade.faults.get(finding.fault)
        yield FindingOut(
            part=finding.part,
            part_name=names.get(finding.part, finding.part),
            fault=finding.fault,
            fault_name=fault.name if fault else finding.fault,
            severity=finding.severity,
        )


class JobOut(Schema):
    id: int
    asset_number: str = Field(description=OWN)
    school: str = Field(description="code of the school")
    bench: str = Field(description="code of the bench")
    opened_on: date
    due_on: date | None
    closed_on: date | None
    is_given_up: bool = Field(description="ended without a play test")

    @staticmethod
    def of(row: Job) -> JobOut:
        return JobOut(
            id=row.pk,
            asset_number=row.instrument.asset_number,
            school=row.instrument.school.code,
            bench=row.bench.code,
            opened_on=localdate(row.opened_at),
            due_on=row.due_on,
            closed_on=localdate(row.closed_at) if row.closed_at else None,
            is_given_up=row.closed_at is not None and row.play_test_id is None,
        )


class LoanOut(Schema):
    id: int
    asset_number: str = Field(description=OWN)
    school: str = Field(description="code of the school that lent it")
    lent_on: date
    due_on: date
    returned_on: date | None
    is_lost: bool = Field(description="ended without the instrument")

    @staticmethod
    def of(row: Loan) -> LoanOut:
        return LoanOut(
            id=row.pk,
            asset_number=row.instrument.asset_number,
            school=row.school.code,
            lent_on=row.lent_on,
            due_on=row.due_on,
            returned_on=localdate(row.returned_at) if row.returned_at else None,
            is_lost=row.is_lost,
        )


class ValueOut(Schema):
    asset_number: str = Field(description=OWN)
    kind: str = Field(description="code of the kind")
    acquisition: Dollars | None = Field(description="null: nobody entered a cost")
    book: Dollars = Field(description="cost less straight-line depreciation")
    replacement: Dollars
    is_kind_price: bool = Field(description="replacement is the midpoint of the kind's price range")
    condition_adjusted: Dollars

    @staticmethod
    def of(one: Valued) -> ValueOut:
        return ValueOut(
            asset_number=one.history.asset_number,
            kind=one.history.kind_code,
            acquisition=one.cost,
            book=one.book,
            replacement=one.replacement,
            is_kind_price=one.is_kind_price,
            condition_adjusted=one.condition_adjusted,
        )
