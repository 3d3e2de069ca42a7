"""Fit for whom: which students a horn with limits does not hurt, and which horns suit a student."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.catalog.load import catalog
from inventory.models import Instrument, Readiness, Whereabouts
from inventory.rules.playing import LEVEL_NAMES, LEVELS, LevelFit, PlayingReport, for_everybody, level_fits
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.standing import standing_of, standings_of
from inventory.selectors.state import may_go_out
from loans.models import Loan, Student
from loans.selectors import students_of

FIRST = "first_year"


@dataclass(frozen=True, slots=True)
class Player:
    """A student, with what is out to them now."""

    student: Student
    has: tuple[str, ...]  # "TV-0012 Trumpet"
    has_kind: bool  # one of the very kind


@dataclass(frozen=True, slots=True)
class Players:
    """The students of one level, and what the horn does to them. ``fit`` is None where the kind states no range."""

    level: str
    name: str
    fit: LevelFit | None
    is_stated: bool  # the kind states a range for this level; else the first year's was taken
    players: Sequence[Player]

    @property
    def waiting(self) -> int:
        return sum(not player.has_kind for player in self.players)

    @property
    def is_unhurt(self) -> bool:
        return self.fit is None or self.fit.is_unhurt


@dataclass(frozen=True, slots=True)
class WhoPage:
    instrument: Instrument
    fits: Sequence[LevelFit]
    groups: Sequence[Players]
    everybody: Sequence[str]  # what is in the way of every player alike
    may_go: bool
    heard: str  # limits that a play test heard: no chart tells whom they hurt
    unconfirmed: str  # chart code, or ""


def fit_at(reports: Mapping[str, PlayingReport], level: str) -> tuple[LevelFit | None, bool]:
    """What a level misses, and whether the kind states a range for it; the first year's stands in."""
    fits = {fit.level: fit for fit in level_fits(reports=reports)}
    if level in fits:
        return fits[level], True
    return fits.get(FIRST), False


def heard_limits(instrument: Instrument) -> str:
    """What the latest play test, if it passed with limits, says in its own words."""
    latest = instrument.play_tests.first()
    return latest.limits_text if latest is not None and latest.result == "limits" else ""


def who_page(instrument: Instrument, *, today: date) -> WhoPage:
    """The students of its school by level, those it does not hurt first, within a level those without such a horn first."""
    standing = standing_of(instrument)
    reports = standing.reports
    out = open_horns(instrument)
    by_level: dict[str, list[Player]] = {}
    for student in students_of(instrument.school):
        mine = out.get(student.pk, [])
        by_level.setdefault(student.level, []).append(
            Player(
                student=student,
                has=tuple(f"{number} {catalog().kind(kind).name}" for number, kind in mine),
                has_kind=any(kind == instrument.kind_code for _, kind in mine),
            )
        )
    groups = []
    for level in [*LEVELS, *sorted(by_level.keys() - set(LEVELS))]:
        if level in by_level:
            fit, is_stated = fit_at(reports, level)
            players = sorted(by_level[level], key=lambda one: (one.has_kind, bool(one.has)))
            groups.append(
                Players(
                    level=level,
                    name=LEVEL_NAMES.get(level, level),
                    fit=fit,
                    is_stated=is_stated,
                    players=tuple(players),
                )
            )
    groups.sort(key=lambda group: (not group.is_unhurt, group.fit.hurts if group.fit else 0))
    return WhoPage(
        instrument=instrument,
        fits=level_fits(reports=reports),
        groups=groups,
        everybody=for_everybody(reports=reports),
        may_go=may_go_out(instrument, today=today) and instrument.whereabouts == Whereabouts.IN_STORE,
        heard=heard_limits(instrument),
        unconfirmed=unconfirmed_chart(standing.chart),
    )


def open_horns(instrument: Instrument) -> dict[int, list[tuple[str, str]]]:
    """Student -> (asset number, kind) of what each has out, at the instrument's school."""
    rows = Loan.objects.open().filter(student__school=instrument.school).order_by("lent_at")
    found: dict[int, list[tuple[str, str]]] = {}
    for student, number, kind in rows.values_list("student_id", "instrument__asset_number", "instrument__kind_code"):
        found.setdefault(student, []).append((number, kind))
    return found


@dataclass(frozen=True, slots=True)
class Suit:
    """A horn that may go out, seen by one student's level."""

    instrument: Instrument
    fit: LevelFit | None
    is_limited: bool

    @property
    def order(self) -> tuple[int, int, str]:
        """Limits that do not touch the student first: sound horns are kept for those who need them."""
        hurts = self.fit.hurts if self.fit else 0
        return (2 if hurts else 0 if self.is_limited else 1, hurts, self.instrument.asset_number)

    @property
    def words(self) -> str:
        if self.fit is not None and not self.fit.is_unhurt:
            return f"This student {self.fit.words}."
        if not self.is_limited:
            return "Nothing is in the way."
        extra = f" {self.fit.words.removeprefix('hurts nobody; ')}." if self.fit is not None and self.fit.other else ""
        return f"Its limits touch none of this student's notes.{extra}"


@dataclass(frozen=True, slots=True)
class SuitsPage:
    student: Student
    level: str
    kinds: Sequence[tuple[str, str, int]]  # code, name, how many may go out
    kind: str  # chosen, or ""
    kind_name: str
    suits: Sequence[Suit]  # that do not hurt
    hurting: Sequence[Suit]
    unconfirmed: str


def suits_page(student: Student, *, kind: str, today: date) -> SuitsPage:
    """The horns of the student's school that may go out, of one kind: asked for, else the last one lent."""
    ready = list(
        Instrument.objects.filter(school=student.school, whereabouts=Whereabouts.IN_STORE)
        .ready(today=today)
        .for_table()
        .order_by("asset_number")
    )
    counts = Counter(horn.kind_code for horn in ready)
    names = {code: catalog().kind(code).name for code in counts}
    chosen = kind if kind in catalog().kinds else last_kind(student)
    horns = [horn for horn in ready if horn.kind_code == chosen]
    standings = standings_of(horns)
    suits = [
        Suit(
            instrument=horn,
            fit=fit_at(standings[horn.pk].reports, student.level)[0],
            is_limited=horn.readiness == Readiness.WITH_LIMITS,
        )
        for horn in horns
    ]
    suits.sort(key=lambda suit: suit.order)
    return SuitsPage(
        student=student,
        level=LEVEL_NAMES.get(student.level, student.level),
        kinds=[(code, names[code], counts[code]) for code in sorted(counts, key=names.__getitem__)],
        kind=chosen,
        kind_name=catalog().kind(chosen).name if chosen else "",
        suits=[suit for suit in suits if suit.fit is None or suit.fit.is_unhurt],
        hurting=[suit for suit in suits if suit.fit is not None and not suit.fit.is_unhurt],
        unconfirmed=unconfirmed_chart(standings[horns[0].pk].chart) if horns else "",
    )


def last_kind(student: Student) -> str:
    """The kind that the student had last, "" where there was none."""
    kind = student.loans.order_by("-lent_at", "-pk").values_list("instrument__kind_code", flat=True).first()
    return kind or ""
