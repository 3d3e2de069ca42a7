"""What other programs of the district read, described by OpenAPI at ``/api/openapi.json``.

Nothing here writes but the note, once a day, that a program read; nothing names a student, a guardian or a donor.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from enum import StrEnum
from typing import Annotated, Any, TypeVar

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from ninja import NinjaAPI, Path, Query, Schema
from ninja.errors import HttpError, ValidationError
from ninja.security import HttpBearer
from ninja.throttling import AuthRateThrottle
from pydantic import Field

from desk.selectors.open_data import Slice, instruments_for, jobs_for, loans_for, schools_for, values_for
from desk.views.open_data import (
    ConditionOut,
    InstrumentOut,
    JobOut,
    LoanOut,
    Page,
    Problem,
    SchoolOut,
    ValueOut,
)
from inventory.models import Integration, Scope, Whereabouts
from inventory.selectors.past import FIRST_DAY, LAST_DAY
from inventory.services.integrations import integration_of, note_reading

RATE = "600/h"  # requests of one token, counted by each process of the server
AT_MOST = 500
ANSWERS: dict[Any, Any] = dict.fromkeys((401, 403, 404, 422, 429), Problem)

Number = Annotated[str, Field(max_length=20, pattern=r"^[ -.0-~\u00a1-\ud7ff]*$")]  # printable, no slash
Code = Annotated[str, Field(max_length=8, pattern=r"^[A-Z0-9]*$", description="code of a school")]
KindCode = Annotated[str, Field(max_length=40, pattern=r"^[a-z0-9_]*$", description="code of a kind")]
Key = Annotated[str, Field(max_length=15, pattern=r"^[0-9]*$", description="next of the page before")]
Day = Annotated[
    date,
    Field(
        ge=FIRST_DAY,
        le=LAST_DAY,
        description="at the end of this day; today if left out",
        json_schema_extra={"pattern": r"^(19|20)\d\d-\d\d-\d\d$"},
    ),
]
Where = StrEnum("Where", [(one.name, one.value) for one in Whereabouts])  # type: ignore[misc]  # members by a list
Row = TypeVar("Row")
Out = TypeVar("Out")


class Token(HttpBearer):
    """A token that an administrator made; it opens some scopes, of one school or of all."""

    def authenticate(self, request: HttpRequest, token: str) -> Integration | None:
        return integration_of(token, today=timezone.localdate())


class ByNumber(Schema):
    after: Annotated[Number, Field(description="next of the page before")] = ""
    limit: Annotated[int, Field(ge=1, le=AT_MOST)] = 200
    school: Code = ""


class ByKey(Schema):
    after: Key = ""
    limit: Annotated[int, Field(ge=1, le=AT_MOST)] = 200
    school: Code = ""
    open: Annotated[bool, Field(description="only those that are open")] = False


api = NinjaAPI(
    title="Hornbook",
    version="1",
    description="Read-only. Lists come in pages; amounts are dollars with two places, as strings; days are ISO dates.",
    urls_namespace="api",
    docs_url=None,
    auth=Token(),
    throttle=AuthRateThrottle(RATE),
)


@api.exception_handler(ValidationError)
def not_valid(request: HttpRequest, error: ValidationError) -> HttpResponse:
    """Say in one sentence what was wrong with the question, as every other refusal does."""
    wrong = "; ".join(f"{one['loc'][-1]}: {one['msg']}" for one in error.errors)
    return api.create_response(request, {"detail": wrong}, status=422)


def opened(request: HttpRequest, scope: Scope) -> Integration:
    """Return whose token it is, if it opens the scope, and note that it read today."""
    integration: Integration = request.auth  # type: ignore[attr-defined]  # what Token returned
    if scope not in integration.scopes:
        raise HttpError(403, f"This token does not open {scope.value}.")
    now = timezone.now()
    if integration.last_read_on != timezone.localdate(now):
        note_reading(integration=integration, at=now)
    return integration


def paged(rows: Sequence[Row], limit: int, out: Callable[[Row], Out], key: Callable[[Row], Any]) -> dict[str, Any]:
    return {"items": [out(row) for row in rows], "next": str(key(rows[-1])) if len(rows) == limit else None}


@api.get("/schools", response={200: list[SchoolOut]} | ANSWERS, summary="Schools and their rooms (scope: fleet)")
def schools(request: HttpRequest) -> list[SchoolOut]:
    return [SchoolOut.of(school) for school in schools_for(opened(request, Scope.FLEET))]


@api.get("/instruments", response={200: Page[InstrumentOut]} | ANSWERS, summary="The register (scope: fleet)")
def instruments(
    request: HttpRequest, part: Query[ByNumber], kind: KindCode = "", whereabouts: Where | None = None
) -> dict[str, Any]:
    integration = opened(request, Scope.FLEET)
    piece = Slice(limit=part.limit, after=part.after, school=part.school)
    where = whereabouts.value if whereabouts else ""
    rows = instruments_for(integration, piece, today=timezone.localdate(), kind=kind, whereabouts=where)
    return paged(rows, part.limit, InstrumentOut.of, lambda row: row.asset_number)


@api.get("/instruments/{asset_number}", response={200: InstrumentOut} | ANSWERS, summary="One of it (scope: fleet)")
def instrument(request: HttpRequest, asset_number: Path[Number]) -> InstrumentOut:
    integration = opened(request, Scope.FLEET)
    rows = instruments_for(integration, Slice(limit=1, asset_number=asset_number), today=timezone.localdate())
    if not rows:
        raise HttpError(404, "There is no such instrument.")
    return InstrumentOut.of(rows[0])


@api.get("/condition", response={200: Page[ConditionOut]} | ANSWERS, summary="What plays (scope: condition)")
def condition(request: HttpRequest, part: Query[ByNumber]) -> dict[str, Any]:
    integration = opened(request, Scope.CONDITION)
    piece = Slice(limit=part.limit, after=part.after, school=part.school)
    rows = instruments_for(integration, piece, today=timezone.localdate())
    return paged(rows, part.limit, ConditionOut.of, lambda row: row.asset_number)


@api.get("/jobs", response={200: Page[JobOut]} | ANSWERS, summary="Repair jobs (scope: work)")
def jobs(request: HttpRequest, part: Query[ByKey]) -> dict[str, Any]:
    integration = opened(request, Scope.WORK)
    piece = Slice(limit=part.limit, after=part.after, school=part.school)
    return paged(jobs_for(integration, piece, is_open=part.open), part.limit, JobOut.of, lambda row: row.pk)


@api.get("/loans", response={200: Page[LoanOut]} | ANSWERS, summary="What is lent, without names (scope: loans)")
def loans(request: HttpRequest, part: Query[ByKey]) -> dict[str, Any]:
    integration = opened(request, Scope.LOANS)
    piece = Slice(limit=part.limit, after=part.after, school=part.school)
    return paged(loans_for(integration, piece, is_open=part.open), part.limit, LoanOut.of, lambda row: row.pk)


@api.get("/value", response={200: Page[ValueOut]} | ANSWERS, summary="Costs and values on a day (scope: value)")
def value(
    request: HttpRequest,
    part: Query[ByNumber],
    on: Day | None = None,
) -> dict[str, Any]:
    integration, day = opened(request, Scope.VALUE), on or timezone.localdate()
    found, last = values_for(integration, Slice(limit=part.limit, after=part.after, school=part.school), on=day)
    return {"items": [ValueOut.of(one) for one in found], "next": last or None}


def api_urls() -> tuple[Any, str, str]:
    """Return the API's addresses, which ask for a token in place of a log-in."""
    patterns: Any
    patterns, app, namespace = api.urls
    named = {pattern.name: pattern for pattern in patterns}
    named["api-root"].callback = named["openapi-json"].callback
    for pattern in patterns:
        pattern.callback = login_not_required(pattern.callback)
    return patterns, app, namespace
