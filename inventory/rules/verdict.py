"""From findings to a verdict: plays, plays with limits, does not play; each finding's effect in plain words.

Unsafe or no sound: does not play. Notes lost or off pitch, a slow mechanism, or a risk: plays with limits. More than a
share of the notes lost (setting ``lost_share_silent``): does not play. Looks never change it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import MISSING_PART, Effect, Fault, Kind, Part, Role, RoleTag, Severity
from inventory.rules.facts import FindingFact
from inventory.rules.playing import PITCH_LIMIT, NoteState, PlayingReport, playing
from inventory.rules.playing.readings import effect_of

LOST_SHARE = "lost_share_silent"
PITCH = "pitch_limit_cents"
TUNES = "tuning_slide"  # the role whose trouble keeps a horn from its pitch
DEFAULT_LOST_SHARE = 0.5  # half of the notes of a range; shop default
LEVEL_WORDS = {
    "first_year": "first-year",
    "second_year": "second-year",
    "concert": "concert",
    "marching": "marching",
}


class Verdict(StrEnum):
    """What an instrument is good for; the word on the screen is ``words``."""

    PLAYS = "plays"
    PLAYS_WITH_LIMITS = "plays_with_limits"
    DOES_NOT_PLAY = "does_not_play"
    NOT_INSPECTED = "not_inspected"

    @property
    def words(self) -> str:
        return self.value.replace("_", " ")


class EffectGroup(StrEnum):
    STOPS = "stops"
    LIMITS = "limits"
    LOOKS = "looks"


@dataclass(frozen=True, slots=True)
class FindingEffect:
    """What one finding does on its own."""

    finding: FindingFact
    effect: Effect
    group: EffectGroup
    sentence: str
    lost: tuple[str, ...] = ()  # written notes that this finding has a hand in losing
    off: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict with everything it rests on."""

    verdict: Verdict
    effects: tuple[FindingEffect, ...]  # in the order of the findings
    report: PlayingReport
    limits: tuple[str, ...]  # for the loan agreement, in plain words
    reasons: tuple[str, ...]  # why the verdict is not "plays"

    def group(self, group: EffectGroup) -> tuple[FindingEffect, ...]:
        """Return the effects of one group."""
        return tuple(effect for effect in self.effects if effect.group is group)


def judge(
    *,
    kind: Kind,
    findings: Sequence[FindingFact],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    chart: Chart | None,
    options: Mapping[str, str],
    settings: Mapping[str, Decimal],
    level: str = "first_year",
    inspected: bool = True,
) -> Judgement:
    """Return the verdict on an instrument with these findings.

    A note that the instrument is off at by its make (no ring on the third slide) counts for nothing here: only what
    findings take away does.
    """
    report = playing(
        kind=kind,
        chart=chart,
        options=options,
        findings=findings,
        level=level,
        faults=faults,
        roles=roles,
        pitch_limit=float(settings.get(PITCH, PITCH_LIMIT)),
    )
    parts = {part.code: part for part in kind.parts_for(options)}
    effects = tuple(
        _effect(index=index, finding=finding, part=parts.get(finding.part), report=report, faults=faults, roles=roles)
        for index, finding in enumerate(findings)
    )
    reasons, limits = _reasons(effects=effects, report=report, settings=settings)
    if not inspected:
        verdict = Verdict.NOT_INSPECTED
        reasons = ("Nobody has inspected it yet.",)
    elif any(effect.group is EffectGroup.STOPS for effect in effects) or _is_past_share(report, settings):
        verdict = Verdict.DOES_NOT_PLAY
    elif reasons:
        verdict = Verdict.PLAYS_WITH_LIMITS
    else:
        verdict = Verdict.PLAYS
    return Judgement(verdict=verdict, effects=effects, report=report, limits=limits, reasons=reasons)


def _is_past_share(report: PlayingReport, settings: Mapping[str, Decimal]) -> bool:
    lost = [note for note in report.notes if note.state is NoteState.LOST and note.because]
    return bool(lost) and len(lost) / len(report.notes) > float(settings.get(LOST_SHARE, DEFAULT_LOST_SHARE))


def _effect(
    *,
    index: int,
    finding: FindingFact,
    part: Part | None,
    report: PlayingReport,
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
) -> FindingEffect:
    name = finding_name(finding=finding, part=part, faults=faults)
    if part is None:
        return FindingEffect(
            finding=finding,
            effect=Effect.LOOKS_ONLY,
            group=EffectGroup.LOOKS,
            sentence=f"{name}: this instrument has no such part.",
        )
    listed = effect_of(finding, part=part, faults=faults, roles=roles)
    mine = [note for note in report.notes if index in note.because]
    lost = tuple(note.written for note in mine if note.state is NoteState.LOST)
    off = tuple(note.written for note in mine if note.state is NoteState.OFF)
    effect = _settled(listed, report=report, lost=lost, off=off)
    group = EffectGroup.LIMITS
    if effect in {Effect.STOPS_SOUND, Effect.UNSAFE}:
        group = EffectGroup.STOPS
    elif effect is Effect.LOOKS_ONLY:
        group = EffectGroup.LOOKS
    other = sum(note.state is NoteState.OTHER_FINGERING for note in mine)
    told = _told(effect=effect, report=report, lost=lost, off=off, other=other)
    if effect in {Effect.BENDS_PITCH, Effect.SLOWS} and not off and part.role == TUNES and _stands(report):
        told = _stands(report).removeprefix("; ")
    is_one_tube = part.role in roles and RoleTag.HAND_SLIDE in roles[part.role].tags  # either leg stops the slide
    if len(part.places) > 1 and not finding.place and (lost or off) and not is_one_tube:
        told += "; which one is not said, so all count"
    return FindingEffect(finding=finding, effect=effect, group=group, sentence=f"{name}: {told}.", lost=lost, off=off)


def _settled(listed: Effect, *, report: PlayingReport, lost: tuple[str, ...], off: tuple[str, ...]) -> Effect:
    """Return the effect once the notes are known: they decide how far a finding that hits notes goes.

    Where the kind has notes, "stops all sound" stands only if no note is left, "loses notes" only if one is lost at
    this level; a finding listed as milder that costs notes counts by what it costs.
    """
    if listed is Effect.UNSAFE or not report.notes:
        return listed
    if listed is Effect.STOPS_SOUND and len(lost) == len(report.notes):
        return listed
    if lost:
        return Effect.LOSES_NOTES
    if off:
        return Effect.BENDS_PITCH
    if listed in {Effect.LOSES_NOTES, Effect.STOPS_SOUND}:
        return Effect.SLOWS
    return listed


def _told(*, effect: Effect, report: PlayingReport, lost: tuple[str, ...], off: tuple[str, ...], other: int) -> str:
    level = LEVEL_WORDS.get(report.level, report.level)
    said = []
    if lost and len(lost) == len(report.notes):
        return "no note sounds"
    if lost:
        said.append(f"{len(lost)} of {len(report.notes)} {level} notes lost ({', '.join(lost)})")
    if off:
        said.append(f"{len(off)} off ({_off(report, off)})")
    if other:
        said.append(f"{other} {'needs' if other == 1 else 'need'} another fingering")
    if said:
        return ", ".join(said)
    return {
        Effect.LOOKS_ONLY: "looks only, playing is not touched",
        Effect.RISKS: "plays now but will get worse",
        Effect.SLOWS: f"slow or awkward, no {level} note lost" if report.notes else "slow or awkward",
        Effect.BENDS_PITCH: "tone or pitch suffers",
        Effect.LOSES_NOTES: "part of what it does is gone",
        Effect.STOPS_SOUND: "cannot be played",
        Effect.UNSAFE: "not safe to hand out",
    }[effect]


def _stands(report: PlayingReport) -> str:
    tuning = report.tuning_range
    if tuning is None or tuning.can_reach_a440:
        return ""
    word = "sharp" if tuning.stands_cents > 0 else "flat"
    return f"; the horn stands {abs(tuning.stands_cents):.0f} cents {word} and cannot be tuned to A = 440"


def _off(report: PlayingReport, off: tuple[str, ...]) -> str:
    """Return notes with their cents where the lengths give any; those that a leak weakens are listed together."""
    by_name = {note.written: note for note in report.notes}
    weak = [name for name in off if by_name[name].is_weak]
    bent = [name for name in off if name not in weak]
    said = [f"{name} {by_name[name].cents:+.0f} cents" for name in bent]
    if weak and len(weak) == len(report.notes):
        said.append("every note weak")
    elif weak:
        said.append(f"weak: {', '.join(weak)}")
    return ", ".join(said)


def _reasons(
    *, effects: Sequence[FindingEffect], report: PlayingReport, settings: Mapping[str, Decimal]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return why it does not simply play, and what to write into the agreement."""
    counted = [effect for effect in effects if effect.group is not EffectGroup.LOOKS]
    reasons = [effect.sentence for effect in counted]
    level = LEVEL_WORDS.get(report.level, report.level)
    if _is_past_share(report, settings):
        share = Decimal(str(settings.get(LOST_SHARE, DEFAULT_LOST_SHARE)))
        reasons.append(f"{report.lost_share:.0%} of the {level} notes are lost; more than {share:.0%} is too many.")
    limits = []
    if report.lost:
        limits.append(f"These {level} notes do not sound: {', '.join(report.lost)}.")
    if report.off:
        limits.append(f"These {level} notes are out of tune or weak: {_off(report, report.off)}.")
    others = [f"{note.written} ({note.fingering})" for note in report.notes if note.state is NoteState.OTHER_FINGERING]
    if others:
        limits.append(f"These notes need another fingering: {', '.join(others)}.")
    limits += [f"Not working: {function}." for function in report.functions_lost]
    if _stands(report):
        limits.append(f"Tuning{_stands(report).replace('; the horn', ':')}.")
    limits += [effect.sentence for effect in counted if not effect.lost and not effect.off]
    return tuple(reasons), tuple(dict.fromkeys(limits)) if counted else ()


def finding_name(*, finding: FindingFact, part: Part | None, faults: Mapping[str, Fault]) -> str:
    """Return a finding as said at the top of a sentence: "Pistons, valve 2, stuck piston up"."""
    where = part.name if part else finding.part.replace("_", " ")
    if part is not None and finding.place:
        place = part.place_name(finding.place)
        where = f"{where}, {place}" if place not in where else where
    known = faults.get(finding.fault)
    what = "missing" if finding.fault == MISSING_PART else known.name if known else finding.fault.replace("_", " ")
    detail = f", {finding.detail}" if finding.detail else ""
    how = "" if finding.severity is Severity.MODERATE else f" ({finding.severity.value})"
    return f"{where[:1].upper()}{where[1:]}, {what}{detail}{how}"
