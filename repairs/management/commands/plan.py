"""Print the plan for findings on a kind of instrument, on one of the bench profiles. Needs no database."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any, NoReturn

from django.core.management.base import CommandError

from inventory.catalog.load import CatalogError, catalog
from inventory.catalog.names import UnknownNameError, resolve_fault, resolve_kind, resolve_part, resolve_severity
from inventory.catalog.schema import Catalog, Kind
from inventory.management.figures import FiguresCommand
from inventory.rules.facts import FindingFact, Owed
from repairs.profiles import USUAL, UnknownBenchError, bench_profile, usual_bench
from repairs.rules.plan import Plan, plan_work
from repairs.rules.plan.report import plan_as_dict


def _refuse(reason: str) -> NoReturn:
    raise CommandError(reason, returncode=2)


class Command(FiguresCommand):
    help = "Print the ordered plan for findings on a kind of instrument."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("kind", metavar="KIND")
        parser.add_argument(
            "--finding",
            action="append",
            default=[],
            dest="findings",
            metavar="PART:FAULT:SEVERITY",
            help="once per finding; a place of a part is named with it: piston_2, Fs_pad",
        )
        parser.add_argument(
            "--bench",
            default=USUAL,
            metavar="CODE",
            help="a profile of fixtures/benches.yaml, at its own rate; without one, a school bench at the district's",
        )
        parser.add_argument(
            "--history",
            choices=("known", "unknown"),
            default="known",
            help="unknown: planned as for a gift, with its full cleaning and the wash of what touches a mouth",
        )
        parser.add_argument("--json", action="store_true", dest="is_json", help="print JSON alone")

    def handle(
        self, *, kind: str, findings: list[str], bench: str, history: str, is_json: bool, **options: Any
    ) -> None:
        try:
            trade = catalog()
            found = resolve_kind(trade, kind)
            plan = plan_work(
                kind=found,
                catalog=trade,
                findings=[_finding(text, catalog=trade, kind=found) for text in findings],
                bench=usual_bench(catalog=trade) if bench == USUAL else bench_profile(bench, catalog=trade),
                owed=frozenset(Owed) if history == "unknown" else frozenset(),
            )
        except (CatalogError, UnknownNameError, UnknownBenchError) as error:
            _refuse(str(error))
        if is_json:
            content = plan_as_dict(plan) | {"figures": self.counted_with}
            self.stdout.write(json.dumps(content, indent=2, ensure_ascii=False))
        else:
            self.stdout.write(f"{_in_words(plan)}\n{self.counted_words}")


def _finding(text: str, *, catalog: Catalog, kind: Kind) -> FindingFact:
    """Read PART:FAULT:SEVERITY; CommandError with what is known where a word is not."""
    words = text.split(":")
    if len(words) != 3:
        _refuse(f"finding {text!r} is not PART:FAULT:SEVERITY")
    part, place = resolve_part(kind, words[0])
    fault = resolve_fault(catalog, words[1], part=part)
    severity = resolve_severity(words[2])
    return FindingFact(part=part.code, fault=fault.code, severity=severity, place=place.code if place else "")


def _in_words(plan: Plan) -> str:
    lines = []
    for number, step in enumerate(plan.steps, start=1):
        where = f" ({step.part_name})" if step.part_name else ""
        wait = f", then {step.wait_h.normalize():f} h" if step.wait_h else ""
        hazards = f", careful: {', '.join(hazard.code for hazard in step.cautions)}" if step.cautions else ""
        span = f"{step.minutes.low:.0f} to {step.minutes.high:.0f} min"
        lines.append(f"{number:2}. {step.say}{where}: {span}{wait}{hazards} [{step.method}]")
        lines += [f"    if that fails: {rung.entry.name}" for rung in step.next_rungs]
    lines += [f"Send out: {one.finding.part} {one.finding.fault}: {one.why}" for one in plan.send_out]
    lines += [f"Leave: {one.finding.part} {one.finding.fault}: {one.why}" for one in plan.leave]
    lines += [f"Not here: {sentence}." for sentence in plan.not_here]
    minutes, cost = plan.taken.attended_minutes, plan.taken.total_cost
    lines.append(f"Hands-on: {minutes.p50:.0f} min half the time, {minutes.p80:.0f} four times in five.")
    lines.append(f"Cost: ${cost.p50:.0f} half the time, ${cost.p80:.0f} four times in five.")
    return "\n".join(lines)
