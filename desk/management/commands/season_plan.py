"""Print the season plan of a file, or of the district: what fills the most seats with these hours and this money."""

from __future__ import annotations

import json
import os
import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any, NoReturn

from django.core.management.base import BaseCommand
from django.utils import timezone

from core.hooks import enter_all
from core.money import dollars
from core.translation import gettext as _
from desk.management.season_file import SHAPE, SeasonFileError, amount_of, read_season, refuse_unknown_benches
from desk.rules.season_plan import Action, Budgets, Decision, Goal, Season, SeasonPlan, more_of, plan_season, why_words
from desk.rules.season_plan.report import plan_as_dict
from desk.rules.season_plan.result import SECONDS
from desk.selectors.season_plan import NO_BENCH, Terms, season_of
from inventory.management.arguments import read_json, refuse
from inventory.management.figures import is_district_there
from inventory.models import School

MOST_SECONDS = 3600.0
MOST_DAYS = 365


class Command(BaseCommand):
    help = (
        "Print which repairs, orders and purchases fill the most seats, by priority, then at the least cost. "
        "With --file it needs no database; without, it reads the district."
    )
    requires_system_checks = ()

    def create_parser(self, *args: Any, **options: Any) -> Any:
        return super().create_parser(*args, epilog=SHAPE, formatter_class=RawDescriptionHelpFormatter, **options)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--file", type=Path, metavar="FILE", help="seats, candidates, purchases, budgets: see below"
        )
        parser.add_argument(
            "--bench-hours",
            action="append",
            metavar="H",
            help="hours of all benches together, or BENCH=H once per bench; like the next three, overrides the file",
        )
        for name in ("repair", "shop", "purchase"):
            parser.add_argument(f"--{name}-money", metavar="DOLLARS", help="no limit if omitted")
        parser.add_argument(
            "--school", action="append", metavar="CODE", help="without --file: only this school; may be repeated"
        )
        parser.add_argument("--needed-by", metavar="DATE", help="without --file: the day by which seats must be filled")
        parser.add_argument("--shop-days", type=int, metavar="D", help="without --file: days at an outside shop")
        parser.add_argument("--no-purchases", action="store_true", help="without --file: buy nothing")
        parser.add_argument("--goal", choices=[goal.value for goal in Goal], help="what comes first (priority)")
        parser.add_argument("--more", action="store_true", help="also what $100, $500 or 5 more hours would fill")
        parser.add_argument(
            "--seconds", type=float, default=SECONDS, metavar="S", help=f"for each goal; {SECONDS:g} if omitted"
        )
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(self, *, file: Path | None, is_json: bool, more: bool, seconds: float, **options: Any) -> None:
        if not 0 < seconds <= MOST_SECONDS:
            refuse(f"--seconds must be above 0 and at most {MOST_SECONDS:g}")
        season = _district(options) if file is None else _of_file(file, options)
        with _solver_quiet():
            plan = plan_season(season, seconds=seconds)
            richer = list(more_of(season, plan, seconds=seconds)) if more else None
        if is_json:
            self.stdout.write(json.dumps(plan_as_dict(season, plan, more=richer), indent=2, ensure_ascii=False))
        else:
            self.stdout.write(_in_words(plan))


def _of_file(path: Path, options: dict[str, Any]) -> Season:
    """Return the file's season, with the budgets and the goal of the line in place of its own."""
    if options["school"] or options["needed_by"] or options["shop_days"] is not None or options["no_purchases"]:
        refuse("--school, --needed-by, --shop-days and --no-purchases cannot be used with --file")
    season = _read(path)
    goal = Goal(options["goal"]) if options["goal"] else season.goal
    season = replace(season, budgets=_budgets(season.budgets, options), goal=goal)
    try:
        refuse_unknown_benches(season)
    except SeasonFileError as error:
        refuse(str(error))
    return season


def _district(options: dict[str, Any]) -> Season:
    """Return the season of the district, or of some of its schools, as its rows have it today."""
    now = timezone.now()
    if not is_district_there():
        refuse("No district answers here. Give --file FILE, or set DATABASE_URL.")
    enter_all(now)
    days = options["shop_days"]
    if days is not None and not 1 <= days <= MOST_DAYS:
        refuse(f"--shop-days must be from 1 to {MOST_DAYS}")
    terms = Terms(
        today=timezone.localdate(now),
        needed_by=_day(options["needed_by"]),
        budgets=_budgets(Budgets(), options),
        goal=Goal(options["goal"] or Goal.PRIORITY),
        shop_days=days,
        is_buying=not options["no_purchases"],
    )
    season = season_of(_schools(options["school"]), terms).season
    try:
        refuse_unknown_benches(season)
    except SeasonFileError as error:
        refuse(f"{error}; schools without a bench are {NO_BENCH!r}")
    return season


def _schools(codes: list[str] | None) -> list[School]:
    rows = School.objects.order_by("code")
    if codes is None:
        return list(rows)
    found = {row.code: row for row in rows.filter(code__in=codes)}
    for code in codes:
        if code not in found:
            refuse(f"--school {code}: there is no such school. There are: {', '.join(row.code for row in rows)}")
    return list(found.values())


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text is not None else None
    except ValueError:
        refuse(f"--needed-by {text}: must be a date such as 2027-08-20")


def _read(path: Path) -> Season:
    content = read_json(path, parse_float=Decimal, parse_constant=_refuse_constant)
    try:
        return read_season(content)
    except SeasonFileError as error:
        refuse(f"{path}: {error}")


def _refuse_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number")


def _budgets(budgets: Budgets, options: dict[str, Any]) -> Budgets:
    """Return the budgets with what the command line says in place of the file's."""
    for name in ("repair", "shop", "purchase"):
        if options[f"{name}_money"] is not None:
            amount = _amount(options[f"{name}_money"], option=f"--{name}-money")
            budgets = replace(budgets, **{f"{name}_amount": amount})
    hours_given: list[str] | None = options["bench_hours"]
    if hours_given is None:
        return budgets
    if len(hours_given) == 1 and "=" not in hours_given[0]:
        return replace(budgets, bench_hours=_amount(hours_given[0], option="--bench-hours"))
    by_bench = {}
    for one in hours_given:
        bench, is_by_bench, hours = one.rpartition("=")
        if not is_by_bench or not bench or bench in by_bench:
            refuse(f"--bench-hours {one}: give one number of hours for all benches, or BENCH=HOURS once per bench")
        by_bench[bench] = _amount(hours, option=f"--bench-hours {bench}")
    return replace(budgets, bench_hours=by_bench)


def _amount(text: str, *, option: str) -> Decimal:
    try:
        return amount_of(text)
    except ValueError as error:
        refuse(f"{option} {error}")


@contextmanager
def _solver_quiet() -> Iterator[None]:
    """Send to standard error what the solver prints: it writes past Python, and standard output is for the answer."""
    sys.stdout.flush()
    kept = os.dup(1)
    os.dup2(2, 1)
    try:
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _in_words(plan: SeasonPlan) -> str:
    lines = [_("%(seated)s of %(wanted)s seats filled for %(cost)s and %(hours)s hours.") % {
        "seated": plan.seated, "wanted": plan.wanted, "cost": dollars(plan.cost_amount), "hours": plan.hours,
    }]  # fmt: skip
    lines += [
        f"{one.seats.key}: {one.seated} of {one.seats.count}" + (f" ({why_words(one.why)})" if one.why else "")
        for one in plan.filled
    ]
    lines += [_line(one) for one in plan.decisions]
    lines.append(
        _("Proven best: no plan is better.")
        if plan.is_proven
        else _("Not proven best: a better plan gains at most %(gap).2f%%.") % {"gap": plan.gap * 100}
    )
    return "\n".join(lines)


def _line(one: Decision) -> str:
    what = {
        Action.USE: "goes out as it is",
        Action.REPAIR: f"repair here, {one.hours} h, {dollars(one.amount)}",
        Action.SEND_OUT: f"send out, {dollars(one.amount)}",
        Action.BUY: f"buy {one.count}, {dollars(one.amount)}",
        Action.SPARE: "ready, but no seat needs it",
        Action.LEAVE: f"leave: {why_words(one.why) if one.why else ''}",
    }[one.action]
    by = f", by {one.ready_on}" if one.ready_on else ""
    return f"{one.key}: {what}{by}" + (f" → {one.seats}" if one.seats else "")
