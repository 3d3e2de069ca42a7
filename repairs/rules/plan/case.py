"""One instrument on one bench: what is asked of the planner, and what forbids a method there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property

from core.translation import gettext as _
from inventory.catalog.schema import (
    MISSING_PART,
    Bath,
    Catalog,
    Effect,
    Guard,
    Hazard,
    Kind,
    Ladder,
    Method,
    Part,
    RoleTag,
    Rung,
    Skill,
    Wet,
    has_tag,
)
from inventory.rules.facts import FindingFact, Owed
from repairs.rules.effort import MethodTimes, Range, SetUp, pert_mean
from repairs.rules.facts import AttemptFact, BenchFact, Outcome
from repairs.rules.odds import Odds

BRIEF_SOAK_H = Decimal("0.5")  # a part that may get wet briefly stands no longer than this
OIL = frozenset({"oil", "lubricate"})
WATCHING = frozenset({"record", "watch", "cosmetic"})  # work that leaves a fault as it is


def step_key(*, method: str, part: str = "", place: str = "", rung: str = "") -> str:
    """Return the key of a step: ``method``, ``method:part``, ``method:part:place``, and ``…:rung`` on a ladder."""
    if rung:
        return f"{method}:{part}:{place}:{rung}"
    return ":".join(word for word in (method, part, place) if word)


def is_flame(*, tags: Iterable[str], tools: Iterable[str] = (), setup: str = "") -> bool:
    """Whether work is done with an open flame."""
    return "flame" in tags or "torch" in tools or setup == "torch"


@dataclass(frozen=True)
class Case:
    """What is asked of the planner, with look-ups made once."""

    kind: Kind
    catalog: Catalog
    findings: tuple[FindingFact, ...]
    bench: BenchFact
    attempts: tuple[AttemptFact, ...]
    odds: Odds
    times: MethodTimes
    effects: Mapping[FindingFact, Effect] | None
    retry: frozenset[str]
    waiting_day_amount: Decimal
    is_looks_included: bool
    cleaning_owed: AbstractSet[Owed] = frozenset()
    given_up: Mapping[str, str] = field(default_factory=dict)  # step key -> why it cannot be done after all

    @cached_property
    def parts(self) -> Mapping[str, Part]:
        return {part.code: part for part in self.kind.parts}

    @cached_property
    def part_order(self) -> Mapping[str, int]:
        return {part.code: number for number, part in enumerate(self.kind.parts, start=1)}

    @cached_property
    def roles(self) -> frozenset[str]:
        return frozenset(part.role for part in self.kind.parts)

    @cached_property
    def last_outcome(self) -> Mapping[str, Outcome]:
        """Return the latest outcome per step key; what was put back since counts as never taken out."""
        latest: dict[str, Outcome] = {}
        for attempt in self.attempts:
            latest[attempt.step_key] = attempt.outcome
            if attempt.outcome.is_success:
                for key in [key for key in latest if self._is_put_back(key, by=attempt.method)]:
                    del latest[key]
        return latest

    def _is_put_back(self, key: str, *, by: str) -> bool:
        method = self.catalog.methods.get(key.partition(":")[0])
        return method is not None and "strip" in method.tags and by in method.put_back

    @cached_property
    def owed(self) -> frozenset[str]:
        """Return the methods that put back what is in pieces on the bench."""
        owed: set[str] = set()
        for attempt in self.attempts:
            if attempt.outcome.is_success or attempt.outcome is Outcome.SKIPPED:
                owed.discard(attempt.method)
            method = self.catalog.methods.get(attempt.method)
            if method is not None and attempt.outcome.is_success:
                owed.update(method.put_back)
        return frozenset(owed)

    def bench_time(self, minutes: float) -> Decimal:
        """Return what so many minutes at the bench cost, to fractions of a cent."""
        return self.bench.rate_amount * Decimal(str(minutes)) / 60

    def outcome(self, key: str) -> Outcome | None:
        """Return the latest outcome of a step, or None if it is to be offered (again)."""
        return None if key in self.retry else self.last_outcome.get(key)

    def effect(self, finding: FindingFact) -> Effect:
        """Return what a finding does to playing: as judged, else as the catalog has it."""
        if self.effects is not None and finding in self.effects:
            return self.effects[finding]
        if finding.fault == MISSING_PART:
            role = self.catalog.roles.get(self.parts[finding.part].role)
            if role is not None:
                return role.missing
        return self.catalog.faults[finding.fault].worst(finding.severity)

    def is_for_looks(self, finding: FindingFact) -> bool:
        """Whether it only looks bad: it takes nothing from playing and keeps nothing in."""
        if self.effect(finding) is not Effect.LOOKS_ONLY:
            return False
        fault, part = self.catalog.faults.get(finding.fault), self.parts[finding.part]  # the catalog may have lost it
        return fault is None or not self.kind.kept_in_by(fault, part=part, severity=finding.severity)

    def minutes(self, method: str, span: tuple[int, int, int]) -> Range:
        """Return low, likely and high minutes as this bench's records have them."""
        return self.times.learned(method, Range(low=float(span[0]), likely=float(span[1]), high=float(span[2])))

    @cached_property
    def set_up(self) -> SetUp:
        return SetUp.of(self.catalog.settings)

    def mean_minutes(self, method: Method) -> float:
        return pert_mean(self.minutes(method.code, method.minutes))

    def tags_of(self, attempt: AttemptFact) -> frozenset[str]:
        tried = self.catalog.tried(attempt.method, attempt.rung)
        return frozenset(tried.tags) if tried is not None else frozenset()

    @cached_property
    def is_oiled(self) -> bool:
        """Whether oil went on after the last wet cleaning of the whole instrument."""
        oiled = False
        for attempt in self.attempts:
            tags = self.tags_of(attempt)
            if attempt.outcome is Outcome.SKIPPED:
                continue
            if not attempt.part and self.cleans_oil(tags) and attempt.outcome.is_success:
                oiled = False
            elif tags & OIL:
                oiled = True
        return oiled

    def cleans_oil(self, tags: AbstractSet[str]) -> bool:
        """Whether work on all of it takes oil off: a bath, or a thorough hand cleaning where there is no bath."""
        if "clean" not in tags or "quarantine" in tags:
            return False
        return "wet" in tags or ("dry_clean" in tags and not self.has_bath)

    @cached_property
    def has_bath(self) -> bool:
        return any(part.bath is not Bath.NONE for part in self.kind.parts)

    @cached_property
    def mended(self) -> frozenset[FindingFact]:
        """Return the findings that have been put right; noting or watching one does not put it right."""
        done = {
            (attempt.method, step_key(method=attempt.method, part=attempt.part, place=attempt.place))
            for attempt in self.attempts
            if attempt.outcome.is_success
        }
        return frozenset(finding for finding in self.findings for code, key in done if self._mends(code, key, finding))

    def _mends(self, code: str, key: str, finding: FindingFact) -> bool:
        method = self.catalog.methods.get(code)
        if method is None or not self.puts_right(method, finding) or WATCHING.intersection(method.tags):
            return False
        return method.whole or key in {
            step_key(method=code, part=finding.part, place=finding.place),
            step_key(method=code, part=finding.part),
        }

    def puts_right(self, method: Method, finding: FindingFact) -> bool:
        """Whether a method fixes a fault there: a set of felts replaces no other missing part."""
        if finding.fault == MISSING_PART and method.whole:
            return finding.fault in method.fixes and self.parts[finding.part].role in method.roles
        return finding.fault in method.fixes

    def may_be_done(self, method: Method) -> bool:
        """Whether the kind has what a method is for."""
        return not method.roles or bool(self.roles.intersection(method.roles))

    def is_there(self, method: Method) -> bool:
        """Whether the instrument has what a method is for, and it is not missing, or no longer."""
        gone = {one.part for one in self.findings if one.fault == MISSING_PART and one not in self.mended}
        return not method.roles or any(
            part.role in method.roles and code not in gone for code, part in self.parts.items()
        )

    # what forbids

    def forbidden(self, *, tags: Iterable[str], part: str, wait_h: Decimal, is_whole: bool) -> str:
        """Return why no bench may do this here: a guard of the trade, or a part that must stay dry; "" if none."""
        given = frozenset(tags)
        guarded = next((guard.because for guard, _ in self.guards_against(given, part=part, is_whole=is_whole)), "")
        return guarded or self.wetted(given, part=part, wait_h=wait_h, is_whole=is_whole)

    def guards_against(
        self, tags: Iterable[str], *, part: str, place: str = "", is_whole: bool
    ) -> Iterator[tuple[Guard, FindingFact]]:
        """Yield every guard that forbids work with these tags, with the finding that calls it up."""
        given = frozenset(tags)
        for guard in self.catalog.guards:
            if not given & frozenset(guard.forbids):
                continue
            for finding in self.findings:
                if finding.fault != guard.fault or finding.severity not in guard.severities or finding in self.mended:
                    continue
                if is_whole or self._is_guarded(guard, finding, part=part, place=place):
                    yield guard, finding

    def _is_guarded(self, guard: Guard, finding: FindingFact, *, part: str, place: str) -> bool:
        """Whether a guard that a finding calls up holds for work at a part."""
        if guard.scope == "instrument" or finding.part == part:
            return True
        if guard.scope == "place":
            return not finding.place or not place or finding.place == place
        return guard.scope == "reach" and self.reaches(part, finding)

    def reaches(self, part: str, finding: FindingFact) -> bool:
        """Whether a pull or blow at a part loads what is broken: that part, or a brace that joins what it loads."""
        where, broken = self.parts.get(part), self.parts[finding.part]
        if where is None:
            return False
        spot = next((one for one in broken.places if one.code == finding.place), None)
        joined = (spot.joins if spot is not None else ()) or broken.joins
        if not joined and has_tag(broken, RoleTag.HOLDS, roles=self.catalog.roles):
            return True
        return not {part, *where.reaches}.isdisjoint({broken.code, *joined})

    def wetted(self, tags: frozenset[str], *, part: str, wait_h: Decimal, is_whole: bool) -> str:
        """Return which part that must stay dry this would wet; "" if none."""
        if "wet" not in tags:
            return ""
        if not is_whole:
            where = self.parts.get(part)
            if where is None or where.wet is Wet.OK or (where.wet is Wet.BRIEF and wait_h <= BRIEF_SOAK_H):
                return ""
            if where.wet is Wet.BRIEF:
                return _("the %(part)s must not be soaked", part=where.name)
            return _("the %(part)s must stay dry", part=where.name)
        if not self.has_bath:
            return _("an instrument like this (%(kind)s) is never put in water", kind=self.kind.name)
        for one in self.kind.parts:
            if one.bath is Bath.STAY and one.wet is Wet.NO:
                return _("the %(part)s cannot come off and must stay dry", part=one.name)
        return ""

    @cached_property
    def dry_parts(self) -> tuple[str, ...]:
        """Return the parts that a bath must not reach."""
        return tuple(part.code for part in self.kind.parts if part.wet is Wet.NO)

    def cautions(self, work: Method | Rung) -> tuple[Hazard, ...]:
        """Return the hazards of work, with those of every bench step on such an instrument; to play it is none."""
        codes = list(work.hazards)
        if "play_test" not in work.tags:
            codes += [one.code for one in self.catalog.hazards.values() if one.every_step_of in self.kind.features]
        known = (self.catalog.hazards[code] for code in dict.fromkeys(codes))
        return tuple(one for one in known if not one.roles or self.roles.intersection(one.roles))

    def lacking_for(self, method: Method) -> str:
        """Return why this bench cannot do a method; "" if it can."""
        return self._lacking(
            skill=method.skill,
            names=(method.code,),
            tools=method.tools,
            tags=method.tags,
            setup=method.setup,
        )

    def lacking_for_rung(self, rung: Rung, *, ladder: Ladder, method: Method) -> str:
        """Return why this bench cannot try a rung. Training in the ladder covers advanced rungs, not a specialist's."""
        names = (f"{ladder.code}.{rung.code}", *(() if rung.skill is Skill.SPECIALIST else (method.code, ladder.code)))
        return self._lacking(skill=rung.skill, names=names, tools=rung.tools, tags=rung.tags, setup="")

    def _lacking(
        self, *, skill: Skill, names: tuple[str, ...], tools: tuple[str, ...], tags: tuple[str, ...], setup: str
    ) -> str:
        if skill is not Skill.BASIC and not self.bench.methods.intersection(names):
            return _("specialist work") if skill is Skill.SPECIALIST else _("nobody at this bench is trained for it")
        if is_flame(tags=tags, tools=tools, setup=setup) and not self.bench.has_torch:
            return _("no torch is allowed at this bench")
        if "chemical" in tags and not self.bench.has_chemicals:
            return _("no chemicals are allowed at this bench")
        wanting = [tool for tool in tools if tool not in self.bench.tools]
        if wanting:
            return _("no %(tools)s at this bench", tools=", ".join(self.tool_name(tool) for tool in wanting))
        return ""

    def tool_name(self, code: str) -> str:
        tool = self.catalog.tools.get(code)
        return tool.name if tool is not None else code.replace("_", " ")
