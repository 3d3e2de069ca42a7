"""From findings to a verdict: plays, plays with limits, does not play; each finding's effect in plain words.

Unsafe or no sound: does not play. Notes lost or off pitch, a slow mechanism, or a risk: plays with limits. More than a
share of the notes lost (setting ``lost_share_silent``): does not play. Looks never change it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from itertools import groupby

from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import MISSING_PART, Effect, Fault, Kind, Part, Role, RoleTag, Severity, has_tag
from inventory.rules.facts import FindingFact
from inventory.rules.notes import note_words, run_words, runs_of, shown_note
from inventory.rules.playing import NOTES_OF_LEVEL, PITCH_LIMIT, NoteResult, NoteState, PlayingReport, playing
from inventory.rules.playing.readings import effects_of

LOST_SHARE = "lost_share_silent"
PITCH = "pitch_limit_cents"
TUNES = "tuning_slide"  # the role whose trouble keeps an instrument from its pitch
DEFAULT_LOST_SHARE = 0.5  # half of the notes of a range; shop default


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
    """What a finding does to playing; a picture gives each its sign: filled square, triangle, dashed circle."""

    STOPS = "stops"
    LIMITS = "limits"
    LOOKS = "looks"


GROUPS = {
    Effect.LOOKS_ONLY: EffectGroup.LOOKS,
    Effect.STOPS_SOUND: EffectGroup.STOPS,
    Effect.UNSAFE: EffectGroup.STOPS,
}  # all others limit
EFFECT_WORDS = {
    Effect.LOOKS_ONLY: gettext_noop("looks only, playing is not affected"),
    Effect.RISKS: gettext_noop("plays now but will get worse"),
    Effect.SLOWS: gettext_noop("slow or awkward"),
    Effect.BENDS_PITCH: gettext_noop("tone or pitch suffers"),
    Effect.LOSES_NOTES: gettext_noop("part of what it does is gone"),
    Effect.STOPS_SOUND: gettext_noop("cannot be played"),
    Effect.UNSAFE: gettext_noop("not safe to hand out"),
}
AT_RISK = gettext_noop("playing is not affected, but the instrument is at risk in transit")  # of what carries it
MORE_DAMAGE = gettext_noop("more damage may follow")  # of a risk, where the finding already does something worse


@dataclass(frozen=True, slots=True)
class FindingEffect:
    """What one finding does on its own."""

    finding: FindingFact
    effect: Effect  # the worst of what it does
    group: EffectGroup
    sentence: str
    lost: tuple[str, ...] = ()  # written notes that this finding has a hand in losing
    off: tuple[str, ...] = ()
    kept_in: str = ""  # why it may not go out before this is repaired, whatever it plays
    besides: str = ""  # a sentence on what it does besides spoiling these notes


@dataclass(frozen=True, slots=True)
class Judgement:
    """A verdict with everything it rests on."""

    verdict: Verdict
    effects: tuple[FindingEffect, ...]  # in the order of the findings
    report: PlayingReport
    limits: tuple[str, ...]  # for the loan agreement, in plain words
    reasons: tuple[str, ...]  # why the verdict is not "plays"

    @property
    def silenced_by(self) -> tuple[str, ...]:
        """Why nobody can play it, as sentences: what stops all sound, or takes every note together with others."""
        is_silent = bool(self.report.notes) and len(self.report.lost) == len(self.report.notes)
        return tuple(
            one.sentence for one in self.effects if one.effect is Effect.STOPS_SOUND or (is_silent and one.lost)
        )

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
    slide_mm: float | None = None,
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
        slide_mm=slide_mm,
    )
    parts = {part.code: part for part in kind.parts_for(options)}
    voices = _voices(findings, parts=parts, faults=faults, roles=roles)
    effects = tuple(
        replace(
            _effect(
                index=index,
                finding=finding,
                part=parts.get(finding.part),
                report=report,
                faults=faults,
                roles=roles,
                voices=voices,
            ),
            kept_in=_kept_in(finding, kind=kind, part=parts.get(finding.part), faults=faults),
        )
        for index, finding in enumerate(findings)
    )
    limit = Decimal(str(settings.get(LOST_SHARE, DEFAULT_LOST_SHARE)))
    lost = sum(note.state is NoteState.LOST for note in report.notes if note.because)
    is_past_share = bool(lost) and lost > limit * len(report.notes)
    counted = [effect for effect in effects if effect.group is not EffectGroup.LOOKS]
    reasons = [effect.sentence for effect in counted]
    if is_past_share:
        figures = {"share": f"{report.lost_share:.0%}", "level": _level(report.level), "limit": f"{limit:.0%}"}
        reasons.append(_("%(share)s of the %(level)s notes are lost; more than %(limit)s is too many.", **figures))
    if not inspected:
        verdict, reasons = Verdict.NOT_INSPECTED, [_("Nobody has inspected it yet.")]
    elif is_past_share or any(effect.group is EffectGroup.STOPS for effect in effects):
        verdict = Verdict.DOES_NOT_PLAY
    else:
        verdict = Verdict.PLAYS_WITH_LIMITS if reasons else Verdict.PLAYS
    limits = _limits(report, counted=counted) if counted else ()
    return Judgement(verdict=verdict, effects=effects, report=report, limits=limits, reasons=tuple(reasons))


def _effect(
    *,
    index: int,
    finding: FindingFact,
    part: Part | None,
    report: PlayingReport,
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    voices: AbstractSet[str],
) -> FindingEffect:
    name = finding_name(finding=finding, part=part, faults=faults)
    if part is None:
        sentence = _("%(finding)s: this instrument has no such part.", finding=name)
        return FindingEffect(finding, Effect.LOOKS_ONLY, EffectGroup.LOOKS, sentence)
    hit = tuple(note for note in report.notes if index in note.because)
    lost, off = _written(hit, NoteState.LOST), _written(hit, NoteState.OFF)
    listed = effects_of(finding, part=part, faults=faults, roles=roles)
    if finding.place in voices:
        listed = tuple(Effect.LOSES_NOTES if one is Effect.STOPS_SOUND else one for one in listed)
    effects = _settled(listed, report=report, lost=lost, off=off)
    notes = _notes_words(report, hit=hit)
    more = [one for one in listed if one.sort in {"motion", "safety"}] if notes else effects[1:]
    words = [_besides_words(one, part=part, report=report) for one in more]
    group = GROUPS.get(effects[0], EffectGroup.LIMITS)
    text = notes or _effect_words(effects[0], part=part, report=report)
    if effects[0] is Effect.RISKS and has_tag(part, RoleTag.APART, roles=roles):
        group, text = EffectGroup.LOOKS, _(AT_RISK)
    is_one_tube = has_tag(part, RoleTag.HAND_SLIDE, roles=roles)  # either leg stops the slide
    if len(part.places) > 1 and not finding.place and (lost or off) and not is_one_tube:
        text += _("; which one is not said, so all count")
    return FindingEffect(
        finding,
        effects[0],
        group,
        f"{name}: {'; '.join([text, *words])}.",
        lost,
        off,
        besides=f"{name}: {'; '.join(words)}." if words else "",
    )


def _voices(
    findings: Sequence[FindingFact],
    *,
    parts: Mapping[str, Part],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
) -> frozenset[str]:
    """Return the places that sound by themselves, such as the drums of a set; none where all of them are silent."""
    speaking = {code for code, part in parts.items() if has_tag(part, RoleTag.VOICES, roles=roles)}
    places = frozenset(place.code for code in speaking for place in parts[code].places)
    silent = {
        finding.place
        for finding in findings
        if finding.part in speaking
        and Effect.STOPS_SOUND in effects_of(finding, part=parts[finding.part], faults=faults, roles=roles)
    }
    return frozenset() if places <= silent else places


def _kept_in(finding: FindingFact, *, kind: Kind, part: Part | None, faults: Mapping[str, Fault]) -> str:
    fault = faults.get(finding.fault)
    if fault is None or part is None:
        return ""
    because = kind.kept_in_by(fault, part=part, severity=finding.severity)
    return f"{finding_name(finding=finding, part=part, faults=faults)}: {because}" if because else ""


def _written(notes: Iterable[NoteResult], state: NoteState) -> tuple[str, ...]:
    return tuple(note.written for note in notes if note.state is state)


def _level(level: str) -> str:
    return _(NOTES_OF_LEVEL[level])


def _settled(
    listed: Sequence[Effect], *, report: PlayingReport, lost: Sequence[str], off: Sequence[str]
) -> list[Effect]:
    """Return the effects once the notes are known, worst first: they decide how far a finding that hits notes goes.

    Where the kind has notes, "stops all sound" stands only if no note is left, "loses notes" only if one is lost at
    this level; a finding listed as milder that costs notes counts by what it costs.
    """
    settled = set(listed)
    if report.notes and (lost or off):
        stops = Effect.STOPS_SOUND in listed and len(lost) == len(report.notes)
        settled = {one for one in listed if one.sort == "safety"}
        settled.add(Effect.STOPS_SOUND if stops else Effect.LOSES_NOTES if lost else Effect.BENDS_PITCH)
    elif report.notes and not settled.isdisjoint({Effect.LOSES_NOTES, Effect.STOPS_SOUND}):
        settled = settled - {Effect.LOSES_NOTES, Effect.STOPS_SOUND} | {Effect.SLOWS}
    return sorted(settled, key=tuple(Effect).index, reverse=True)


def _notes_words(report: PlayingReport, *, hit: Sequence[NoteResult]) -> str:
    """Say what a finding does to the notes that it hits; "" where it hits none."""
    lost, off = _written(hit, NoteState.LOST), [note for note in hit if note.state is NoteState.OFF]
    if lost and len(lost) == len(report.notes):
        return _("no note sounds")
    parts = []
    if lost:
        data = {"lost": len(lost), "all": len(report.notes), "level": _level(report.level), "notes": note_words(lost)}
        parts.append(_("%(lost)s of %(all)s %(level)s notes lost (%(notes)s)", **data))
    if off:
        parts.append(_("%(off)s off (%(notes)s)", off=len(off), notes=_off_words(off, report=report)))
    if other := len(hit) - len(lost) - len(off):
        parts.append(ngettext("%(number)s needs another fingering", "%(number)s need another fingering", other))
    return ", ".join(parts)


def _effect_words(effect: Effect, *, part: Part, report: PlayingReport) -> str:
    if part.role == TUNES and effect in {Effect.BENDS_PITCH, Effect.SLOWS} and report.mistuning:
        return _("the instrument %(mistuning)s", mistuning=report.mistuning)
    if effect is Effect.SLOWS and report.notes:
        return _("slow or awkward, no %(level)s note lost", level=_level(report.level))
    return _(EFFECT_WORDS[effect])


def _besides_words(effect: Effect, *, part: Part, report: PlayingReport) -> str:
    """Say what a finding does besides something worse."""
    if effect is Effect.SLOWS:
        return _(EFFECT_WORDS[effect])
    return _(MORE_DAMAGE) if effect is Effect.RISKS else _effect_words(effect, part=part, report=report)


def _off_words(off: Iterable[NoteResult], *, report: PlayingReport) -> str:
    """Name notes with their cents where the lengths give any; those that a leak weakens are listed together."""
    off = list(off)
    weak = [note.written for note in off if note.is_weak]
    by_cents = groupby((note for note in off if not note.is_weak), key=lambda note: f"{note.cents:+.0f}")
    parts = [
        _("%(notes)s %(cents)s cents", notes=run_words(run), cents=cents)
        for cents, notes in by_cents
        for run in runs_of(note.written for note in notes)
    ]
    if weak and len(weak) == len(report.notes):
        parts.append(_("every note weak"))
    elif weak:
        parts.append(_("weak: %(notes)s", notes=note_words(weak)))
    return ", ".join(parts)


def _limits(report: PlayingReport, *, counted: Iterable[FindingEffect]) -> tuple[str, ...]:
    """Return what to write into the agreement."""
    level, limits = _level(report.level), []
    if report.lost:
        notes = note_words(report.lost)
        limits.append(_("These %(level)s notes do not sound: %(notes)s.", level=level, notes=notes))
    if off := [note for note in report.notes if note.state is NoteState.OFF]:
        notes = _off_words(off, report=report)
        limits.append(_("These %(level)s notes are out of tune or weak: %(notes)s.", level=level, notes=notes))
    others = [
        f"{shown_note(note.written)} ({note.fingering})"
        for note in report.notes
        if note.state is NoteState.OTHER_FINGERING
    ]
    if others:
        limits.append(_("These notes need another fingering: %(notes)s.", notes=", ".join(others)))
    limits += [_("Not working: %(function)s.", function=function) for function in report.functions_lost]
    if report.mistuning:
        limits.append(_("Tuning: %(mistuning)s.", mistuning=report.mistuning))
    limits += [effect.besides if effect.lost or effect.off else effect.sentence for effect in counted]
    limits = [limit for limit in limits if limit]
    return tuple(dict.fromkeys(limits))


def finding_name(*, finding: FindingFact, part: Part | None, faults: Mapping[str, Fault]) -> str:
    """Return a finding as said at the top of a sentence: "Pistons, valve 2, stuck piston up"."""
    where = part.name if part else finding.part.replace("_", " ")
    place = part.place_name(finding.place) if part else ""
    if place and place not in where:
        where = f"{where}, {place}"
    known = faults.get(finding.fault)
    what = _("missing") if finding.fault == MISSING_PART else known.name if known else finding.fault.replace("_", " ")
    detail = f", {finding.detail}" if finding.detail else ""
    how = "" if finding.severity is Severity.MODERATE else f" ({_(finding.severity.value)})"
    return f"{where[:1].upper()}{where[1:]}, {what}{detail}{how}"
