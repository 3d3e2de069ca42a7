"""Everything the instrument page shows, gathered in few queries."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from django.urls import reverse

from desk.selectors.history import HistoryLine, history_of
from inventory.access import has_perm_at_school
from inventory.models import Accessory, Finding, Instrument, Photo, PlayTest, Readiness, Whereabouts
from inventory.rules.picture.shapes import Mark
from inventory.rules.playing import LevelFit, for_everybody, level_fits
from inventory.rules.standing import Standing
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.columns import facts_of
from inventory.selectors.drawing import marks_of
from inventory.selectors.standing import standing_of
from inventory.selectors.state import may_go_out, reasons_today
from inventory.selectors.suspects import SuspectSpots, spots_of
from loans.models import Loan
from repairs.models import Job, ShopOrder
from repairs.rules.plan import Plan
from repairs.selectors.planning import plan_for_instrument


@dataclass(frozen=True, slots=True)
class FindingLine:
    """A standing finding in plain words, with what would put it right."""

    number: int  # of its station on the drawing; 0 where the instrument no longer has the part
    part: str
    severity: str
    sentence: str
    group: str
    note: str
    minutes: float | None
    cost: Decimal | None


@dataclass(frozen=True, slots=True)
class Act:
    label: str
    url: str
    main: bool = False


@dataclass(frozen=True, slots=True)
class InstrumentPage:
    instrument: Instrument
    readiness: str
    reasons: list[dict[str, str]]
    standing: Standing
    groups: list[tuple[str, str, list[FindingLine]]]
    marks: Mapping[str, Mark]
    links: Mapping[str, str]
    plan: Plan
    loan: Loan | None
    job: Job | None
    accessories: list[Accessory]
    may_count: bool
    photos: list[Photo]
    play_tests: list[PlayTest]
    history: list[HistoryLine]
    acts: list[Act]
    facts: list[tuple[str, str]]
    fits: tuple[LevelFit, ...]  # whom it hurts, by level
    everybody: tuple[str, ...]  # what is in the way of every player alike
    unconfirmed: str  # code of the fingering chart, where nobody has confirmed it
    suspects: SuspectSpots | None  # of the latest play test, if it failed notes

    @property
    def hurts_nobody(self) -> bool:
        return all(fit.is_unhurt and not fit.other for fit in self.fits)

    @property
    def has_findings(self) -> bool:
        return any(lines for _, _, lines in self.groups)

    @property
    def short_accessories(self) -> int:
        return sum(row.is_short for row in self.accessories)


GROUPS = (("stops", "Stops playing"), ("limits", "Limits playing"), ("looks", "Looks only"))
NO_ACT = ("", "")
# What an act needs; an act that is not here only shows something.
NEEDED = {
    "inspect": "inventory.inspect_instrument",
    "play_test": "inventory.play_test_instrument",
    "take_back": "loans.return_instrument",
    "find": "inventory.move_instrument",
    "clean": "inventory.clean_instrument",
    "answer_report": "inventory.handle_report",
    "count_accessories": "inventory.inspect_instrument",
}


def clearing(code: str, instrument: Instrument, job: Job | None) -> tuple[str, str]:
    """(what to do, where) for a reason's act."""
    number = instrument.asset_number
    bench = ("Open the job", reverse("repairs:job", args=[job.pk])) if job else NO_ACT
    if instrument.whereabouts == Whereabouts.AT_SHOP:
        order = ShopOrder.objects.open().filter(instrument=instrument).values_list("pk", flat=True).first()
        bench = ("See the order", reverse("repairs:order", args=[order])) if order else bench
    return {
        "inspect": ("Inspect it", reverse("inventory:inspect", args=[number])),
        "repair": bench if job else ("Start a repair job", reverse("repairs:open-job", args=[number])),
        "finish_job": bench,
        "play_test": ("Play-test it", reverse("inventory:play-test", args=[number])),
        "take_back": ("Take it back", reverse("desk:take-back", args=[number])),
        "find": ("Say where it is", reverse("inventory:whereabouts", args=[number])),
        "clean": ("Clean it and say so", reverse("inventory:hygiene", args=[number])),
        "answer_report": ("Read the report", reverse("inventory:reports")),
        "count_accessories": ("Count what is there", reverse("inventory:accessories", args=[number])),
    }.get(code, NO_ACT)


def needed_for(code: str, job: Job | None) -> str:
    """The permission that an act asks for; a job that is open already may be read by everybody who sees it."""
    if code == "repair" and job is None:
        return "repairs.open_job"
    return NEEDED.get(code, "")


def reason_lines(
    instrument: Instrument, job: Job | None, *, may: Callable[[str], bool], today: date
) -> list[dict[str, str]]:
    """What keeps it in, each with what would clear it for somebody who may; limits in one line while it stays in."""
    reasons = reasons_today(instrument, today=today)
    staying = [reason for reason in reasons if reason["stays_in"]]
    limits = [reason for reason in reasons if not reason["stays_in"]]
    lines: list[dict[str, str]] = []
    for reason in staying or limits:
        needed = needed_for(reason["clears"], job)
        action, url = clearing(reason["clears"], instrument, job) if not needed or may(needed) else NO_ACT
        if lines and lines[-1]["url"] == url:
            lines[-1]["url"] = lines[-1]["action"] = ""  # one link for neighbors that the same act clears
        lines.append({"text": reason["text"], "url": url, "action": action})
    if staying and limits:
        said = "1 limit" if len(limits) == 1 else f"{len(limits)} limits"
        lines.append({"text": f"And {said}, below.", "url": "#findings", "action": "Read on"})
    return lines


def finding_lines(standing: Standing, plan: Plan, *, rows: Sequence[Finding]) -> list[FindingLine]:
    """Standing findings in walk order, numbered as on the drawing; those on parts that are gone last, without a number."""
    order = {part.code: number for number, part in enumerate(standing.kind.parts, start=1)}
    notes = {str(row.pk): row.note for row in rows}
    lines = []
    for effect in standing.judgement.effects:
        fact = effect.finding
        steps = [step for step in plan.steps if any(one.key == fact.key for one in step.findings)]
        lines.append(
            FindingLine(
                number=order.get(fact.part, 0),
                part=fact.part,
                severity=fact.severity.value,
                sentence=effect.sentence,
                group=effect.group,
                note=notes.get(fact.key, ""),
                minutes=sum(step.minutes.likely for step in steps) if steps else None,
                cost=sum((step.cost_amount for step in steps), Decimal(0)) if steps else None,
            )
        )
    return sorted(lines, key=lambda line: line.number or len(order) + 1)


def likely_acts(instrument: Instrument, *, loan: Loan | None, job: Job | None, user: Any, today: date) -> list[Act]:
    """What somebody most likely came for: one main act, one beside it."""
    number = instrument.asset_number
    may = partial(has_perm_at_school, user, school_id=instrument.school_id)
    inspect = Act("Inspect", reverse("inventory:inspect", args=[number]))
    acts: list[Act] = []
    if loan and may("loans.return_instrument"):
        acts.append(Act("Take back", reverse("desk:take-back", args=[number]), main=True))
    elif job and may("repairs.do_step"):
        acts.append(Act("Next step", reverse("repairs:job", args=[job.pk]), main=True))
    elif (
        instrument.whereabouts == Whereabouts.IN_STORE
        and may("loans.lend_instrument")
        and may_go_out(instrument, today=today)
    ):
        acts.append(Act("Lend", reverse("desk:lend-this", args=[number]), main=True))
    elif instrument.inspected_at is None and may("inventory.inspect_instrument"):
        return [Act("Inspect", inspect.url, main=True)]
    elif (
        instrument.whereabouts == Whereabouts.IN_STORE
        and instrument.is_hygiene_due
        and may("inventory.clean_instrument")
    ):
        acts.append(Act("Clean it", reverse("inventory:hygiene", args=[number]), main=True))
    elif instrument.whereabouts == Whereabouts.IN_STORE and may("repairs.open_job"):
        acts.append(Act("Start job", reverse("repairs:open-job", args=[number]), main=True))
    if may("inventory.inspect_instrument"):
        acts.insert(0, inspect)
    return acts


def instrument_page(instrument: Instrument, *, user: Any, today: date) -> InstrumentPage:
    """Gather the page. The caller has checked that the user may see the instrument."""
    may = partial(has_perm_at_school, user, school_id=instrument.school_id)
    rows = list(Finding.objects.filter(instrument=instrument).standing())
    standing = standing_of(instrument, findings=[row.fact for row in rows])
    job = Job.objects.open().filter(instrument=instrument).select_related("bench").first()
    if job is not None:
        job.instrument = instrument  # the very same row, already read
    plan = plan_for_instrument(instrument, standing=standing, job=job)
    lines = finding_lines(standing, plan, rows=rows)
    is_out = instrument.whereabouts == Whereabouts.WITH_STUDENT
    loan = Loan.objects.open().filter(instrument=instrument).select_related("student").first() if is_out else None
    play_tests = list(instrument.play_tests.select_related("actor")[:5])
    return InstrumentPage(
        instrument=instrument,
        readiness=instrument.readiness if may_go_out(instrument, today=today) else Readiness.STAYS_IN,
        reasons=reason_lines(instrument, job, may=may, today=today),
        standing=standing,
        groups=[(code, title, [line for line in lines if line.group == code]) for code, title in GROUPS],
        marks=marks_of(standing),
        links={line.part: f"#finding-{line.number}" for line in lines if line.number},
        plan=plan,
        loan=loan,
        job=job,
        accessories=list(instrument.accessories.all()),
        may_count=may("inventory.inspect_instrument"),
        photos=list(instrument.photos.all()[:12]),
        play_tests=play_tests,
        history=history_of(instrument),
        acts=likely_acts(instrument, loan=loan, job=job, user=user, today=today),
        facts=facts_of(instrument, user=user),
        fits=level_fits(reports=standing.reports),
        everybody=for_everybody(reports=standing.reports),
        unconfirmed=unconfirmed_chart(standing.chart),
        suspects=spots_of(play_tests[0] if play_tests else None, instrument),
    )
