"""What an auditor asks about first: records that lack something, and acts that a rule of the district speaks against.

Each rule is one query of its rows, so that its count and its list are always the same rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.db.models.lookups import Exact, GreaterThan
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import Finding, Inspection, Instrument, Purpose, Tag, Verdict, Whereabouts
from loans.models import Loan
from repairs.models import ShopOrder
from repairs.models.order_money import APPROVED
from repairs.selectors.shops import approval_limit

VIEW = "desk.view_log"


@dataclass(frozen=True, slots=True)
class Rule:
    """``rows`` are of instruments, loans or orders, as far as the user sees them, in the order of a list."""

    title: Promise
    because: Promise
    rows: Callable[[Any, date], QuerySet[Any]]


def untagged(user: Any, _today: date) -> QuerySet[Instrument]:
    tag = Tag.objects.live().filter(instrument=OuterRef("pk"), accessory=None)
    return Instrument.objects.visible_to(user, VIEW).present().filter(~Exists(tag)).order_by("asset_number")


def unserialed(user: Any, _today: date) -> QuerySet[Instrument]:
    return Instrument.objects.visible_to(user, VIEW).present().filter(serial="").order_by("asset_number")


def billed_without_job(user: Any, _today: date) -> QuerySet[ShopOrder]:
    rows = ShopOrder.objects.visible_to(user, VIEW).filter(invoice_amount__gt=0, job=None)
    return rows.order_by("-invoice_on", "-pk")


def over_limit(user: Any, _today: date) -> QuerySet[ShopOrder]:
    """Bills, and work that a shop was told to do, above the limit in force and above what was approved."""
    ordered = Q(sent_at__isnull=False, is_estimate_only=False) | Q(invoice_amount__isnull=False)
    amount = Coalesce("invoice_amount", "estimate_amount", "expected_high_amount")
    rows = ShopOrder.objects.visible_to(user, VIEW).filter(ordered, called_off_at=None)
    beyond = GreaterThan(amount, approval_limit()) & GreaterThan(amount, APPROVED)
    return rows.filter(beyond).order_by("-asked_at", "-pk")


def failed_return_twice(user: Any, _today: date) -> QuerySet[Instrument]:
    """Instruments whose last two inspections on return both found that they do not play."""
    returns = Inspection.objects.finished().filter(purpose=Purpose.RETURN)
    silent = Value(Verdict.DOES_NOT_PLAY.value)
    failed = returns.filter(verdict=Verdict.DOES_NOT_PLAY).order_by().values("instrument")
    often = failed.annotate(times=Count("pk")).filter(times__gte=2).values("instrument")
    latest = returns.filter(instrument=OuterRef("pk")).order_by("-finished_at", "-pk").values("verdict")
    rows = Instrument.objects.visible_to(user, VIEW).present().filter(pk__in=often)
    last_two = Exact(Subquery(latest[:1]), silent) & Exact(Subquery(latest[1:2]), silent)
    return rows.filter(last_two).order_by("asset_number")


def overdue(user: Any, today: date) -> QuerySet[Loan]:
    return Loan.objects.visible_to(user, VIEW).overdue(today=today).order_by("due_on", "pk")


def unsigned(user: Any, _today: date) -> QuerySet[Loan]:
    return Loan.objects.visible_to(user, VIEW).unsigned().order_by("lent_on", "pk")


def out_unsafe(user: Any, _today: date) -> QuerySet[Instrument]:
    """Instruments that students have in spite of a fault that is to be repaired before one is issued."""
    rows = Instrument.objects.visible_to(user, VIEW).filter(whereabouts=Whereabouts.WITH_STUDENT)
    return rows.filter(pk__in=never_issued(rows.order_by().values("pk"))).order_by("asset_number")


def never_issued(keys: Any) -> Mapping[int, str]:
    """Why those of the instruments with these keys that have such a fault should not be out, by key."""
    faults = {code: fault for code, fault in catalog().faults.items() if fault.never_issue}
    standing = Finding.objects.standing().filter(instrument__in=keys, fault__in=faults).order_by("pk")
    columns = ("instrument", "instrument__options", "instrument__kind_code", "part", "fault", "severity")

    @cache
    def because(options: tuple[tuple[str, str], ...], *sort: str) -> str:
        kind_code, part_code, fault, severity = sort
        kind = catalog().kind(kind_code).built(dict(options))
        part = next((one for one in kind.parts if one.code == part_code), None)
        return kind.kept_in_by(faults[fault], part=part, severity=Severity(severity)) if part else ""

    found: dict[int, str] = {}
    for pk, options, *sort in standing.values_list(*columns):
        if words := because(tuple(sorted(options.items())), *sort):
            found.setdefault(pk, words)
    return found


RULES: Mapping[str, Rule] = {
    "never-issue": Rule(
        _("With a student despite a fault that must be repaired first"),
        _("The fault was found, the instrument is out, and nobody has closed the finding."),
        out_unsafe,
    ),
    "over-limit": Rule(
        _("Shop work above the approval limit, not approved"),
        _(
            "The bill, or the shop's estimate once work was ordered, is above the limit in force and above what was approved."
        ),
        over_limit,
    ),
    "no-job": Rule(
        _("Shop's bill without a repair job"),
        _("Money was billed for an instrument, and no job says what was to be done."),
        billed_without_job,
    ),
    "returns": Rule(
        _("Failed its last two return inspections"),
        _("It came back twice in a row and did not play."),
        failed_return_twice,
    ),
    "overdue": Rule(_("Loan past its due date"), _("It was due back and is still out."), overdue),
    "unsigned": Rule(
        _("Out without a signed agreement"),
        _("No signed agreement is on file, on screen, on paper or elsewhere."),
        unsigned,
    ),
    "no-tag": Rule(_("No tag"), _("The instrument has no active tag, so a scan cannot find it."), untagged),
    "no-serial": Rule(_("No serial number"), _("The record has no serial number to tell it from another."), unserialed),
}
