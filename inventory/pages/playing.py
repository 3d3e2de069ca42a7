"""The notes of a play test, what the findings predict for them, and what a finished test shows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext, gettext_lazy, ngettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, PlayingModel
from inventory.models import Instrument, PlayTest
from inventory.pages.charts import fingering_text
from inventory.pages.suspects import spots_of
from inventory.rules.intonation import Against, Intonation, Surprise
from inventory.rules.notes import note_words, shown_note
from inventory.rules.picture.staff import lone_staff
from inventory.rules.pitch import FAR_DEGREES, ROOM_CELSIUS, drift, frequency, room_band
from inventory.rules.playing import NoteState, PlayingReport, level_name, uncharted
from inventory.rules.standing import FIRST_YEAR, Standing
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.playing import (
    earlier_test,
    follows_room,
    intonation_of,
    levels_of,
    measured,
    notes_at,
    room_cents,
    tuning_trend,
    voices_of,
)
from inventory.selectors.standing import standing_for, standing_of


def note_lines(kind: Kind, *, report: PlayingReport, healthy: PlayingReport) -> list[dict[str, Any]]:
    usual = {note.written: note.fingering for note in healthy.notes}
    return [
        {
            "written": note.written,
            "shown": shown_note(note.written),  # with real sharps and flats
            "fingering": fingering_text(kind, note.fingering or usual.get(note.written, "")),
            "sounding": note.sounding,  # MIDI
            "hertz": round(frequency(note.sounding), 3),
            "state": note.state.value,
            "predicted": note.cents,
        }
        for note in report.notes
    ]


def blank_play_test(instrument: Instrument) -> dict[str, Any]:
    """Show the play test of every instrument built like this one, as of one without findings: what is kept on a phone."""
    likeness = instrument.likeness()
    standing = standing_of(likeness, findings=[], is_inspected=True)
    return play_test_page(likeness, level="", standing=standing) | {"is_blank": True}


def play_test_page(instrument: Instrument, *, level: str, standing: Standing | None = None) -> dict[str, Any]:
    """Show what to play at a level; an unknown level counts as the first year."""
    standing = standing or standing_of(instrument)
    kind = standing.kind
    known = levels_of(kind)
    chosen = level if level in known else (known[0] if known and FIRST_YEAR not in known else FIRST_YEAR)
    report = standing.at(chosen).report
    healthy = standing_for(instrument.kind_code, instrument.options).at(chosen).report
    notes = note_lines(kind, report=report, healthy=healthy)
    return {
        "instrument": instrument,
        "level": chosen,
        "levels": [(code, level_name(code)) for code in known] if notes else [],  # to choose from
        # To play, or the voices where the kind has no notes, such as the drums of a set.
        "notes": notes or [{"written": name, "shown": name, "hertz": 0.0} for name in voices_of(standing)],
        "is_by_note": bool(notes),
        "staff": lone_staff([note["written"] for note in notes], clef=standing.clef) if notes else None,
        "spec": catalog().play_tests.get(kind.play_test),
        # Code of the chart where nobody has confirmed its fingerings, else "".
        "unconfirmed": unconfirmed_chart(standing.chart),
        # Notes of the range that the chart has no fingering for.
        "uncharted": [shown_note(name) for name in uncharted(kind=kind, chart=standing.chart, level=chosen)],
        "silenced_by": standing.judgement.silenced_by,  # why nobody can play it before it is repaired
    }


TITLES = {
    PlayTest.Result.PASS: gettext_lazy("Passed"),
    PlayTest.Result.LIMITS: gettext_lazy("Passed with limits"),
    PlayTest.Result.FAIL: gettext_lazy("Failed"),
}


def play_test_result(test: PlayTest) -> dict[str, Any]:
    """What templates/inventory/play_test_result.html shows: a test beside what the findings of today predict."""
    instrument = test.instrument
    standing = standing_of(instrument)
    report = standing.widest_report
    intonation = intonation_of(test, report=report)
    trend = tuning_trend(instrument)
    return {
        "test": test,
        "instrument": instrument,
        "title": TITLES[PlayTest.Result(test.result)],
        "over": tester_words(test),
        "lines": measured_lines(test, report=report, surprises=intonation.surprises) if has_cents(test) else [],
        "room_cents": room_cents(test),
        "room_words": room_words(test),
        "throughout": throughout_words(intonation, kind=standing.kind),
        "surprises": [
            *(silent_surprises(test, report=report) if standing.findings else ()),
            *(surprise_words(one) for one in intonation.surprises),
        ],
        "kept_in": [one.kept_in for one in standing.judgement.effects if one.kept_in],
        "is_by_note": bool(report.notes),
        "suspects": spots_of(test, instrument),
        "failed": [shown_note(name) for name in test.failed_notes],
        "weak": [shown_note(name) for name in test.weak_notes],
        "untried": untried_of(test, standing),
        "opinion": opinion_of(test),
        "unexplained": unexplained_words(standing.kind),
        "trend": trend,
        "drift": drift(tests=trend),
        "unconfirmed": unconfirmed_chart(standing.chart),
    }


def has_cents(test: PlayTest) -> bool:
    return any(row.get("cents") is not None for row in test.measures)


def tester_words(test: PlayTest) -> str:
    """Say "Nov 3, 2026, 9:12 a.m. · Fern Tech, plays trombone · on a 7C"."""
    who = str(test.actor)
    if test.tester_plays:
        who = gettext("%(name)s, plays %(instrument)s") % {"name": who, "instrument": test.tester_plays}
    words = [date_format(localtime(test.played_at), gettext("M j, Y, g:i a")), who]
    if test.played_with:
        words.append(gettext("on %(played_with)s") % {"played_with": test.played_with})
    return " · ".join(words)


def room_words(test: PlayTest) -> str:
    """Say what the room did to the cents, and whether that is taken off."""
    kind = test.instrument.kind
    if test.room_celsius is None:
        return gettext("Room temperature not recorded: cents as measured.")
    if not follows_room(kind) and kind.model is not PlayingModel.BARS:
        return gettext("Cents as measured: it is tuned by hand, whatever the room.")
    low, high = room_band(float(test.room_celsius), is_bars=kind.model is PlayingModel.BARS)
    facts = {"celsius": test.room_celsius, "low": low, "high": high}
    if kind.model is PlayingModel.BARS:
        words = gettext(
            "Cents as measured. The room at %(celsius)s °C moves metal bars by %(low)+.0f to %(high)+.0f cents."
        )
    elif test.is_tuned_first:
        words = gettext("Tuned first: cents as measured, whatever the room.")
    else:
        words = gettext(
            "The room at %(celsius)s °C accounts for %(low)+.0f to %(high)+.0f cents, dry air to damp; "
            "the 20 °C column leaves out those of dry air."
        )
    words %= facts
    if abs(float(test.room_celsius) - ROOM_CELSIUS) > FAR_DEGREES and not test.is_tuned_first:
        words += " " + gettext("So far from 20 °C the correction is rough: measure again in a room nearer to it.")
    return words


HOW_TO_TUNE = {
    PlayingModel.BARS: gettext_lazy("Bars are tuned by a specialist."),
    PlayingModel.TABLE: gettext_lazy("Tune it."),
}


def throughout_words(intonation: Intonation, *, kind: Kind) -> str:
    """Say that the whole instrument is off, and what to do; "" while it is not."""
    if intonation.general is None or not intonation.is_off_throughout:
        return ""
    if kind.model in HOW_TO_TUNE:
        what = str(HOW_TO_TUNE[kind.model])
    elif intonation.general > 0:
        what = gettext("Pull the main slide, headjoint or barrel out.")
    else:
        what = gettext("Push the main slide, headjoint or barrel in. If it is in already, look for a leak.")
    facts = {"cents": abs(intonation.general), "what": what}
    if intonation.general > 0:
        return gettext("%(cents).0f cents sharp throughout. %(what)s") % facts
    return gettext("%(cents).0f cents flat throughout. %(what)s") % facts


COMPARED = {
    Against.EARLIER: gettext_lazy("compared with earlier tests of this instrument"),
    Against.SIBLINGS: gettext_lazy("compared with others of its model"),
    Against.LENGTHS: gettext_lazy("compared with what its lengths predict"),
}


def surprise_words(one: Surprise) -> str:
    facts = {
        "note": shown_note(one.written),
        "cents": abs(one.excess),
        "heard": one.measured,
        "expected": one.predicted,
        "compared": COMPARED[one.against],
    }
    if one.excess > 0:
        words = gettext(
            "%(note)s is %(cents).0f cents sharper than the rest, %(compared)s "
            "(measured %(heard)+.0f, expected %(expected)+.0f, after leveling out the pitch of the whole instrument)."
        )
    else:
        words = gettext(
            "%(note)s is %(cents).0f cents flatter than the rest, %(compared)s "
            "(measured %(heard)+.0f, expected %(expected)+.0f, after leveling out the pitch of the whole instrument)."
        )
    return words % facts


def silent_surprises(test: PlayTest, *, report: PlayingReport) -> list[str]:
    """Notes that did not speak although no finding predicts it, and notes that spoke although one should be lost."""
    states = {note.written: note.state for note in report.notes}
    silent = [name for name in test.failed_notes if states.get(name) not in {None, NoteState.LOST}]
    spoke = (set(measured(test)) | set(test.tried_notes)) - set(test.failed_notes)
    present = [note.written for note in report.notes if note.written in spoke and note.state is NoteState.LOST]
    lines = []
    if silent:
        words = gettext("No finding explains why %(notes)s failed. See the suspects below.")
        lines.append(words % {"notes": note_words(silent)})
    if present:
        words = gettext("%(notes)s spoke, although a finding says otherwise. Look at that finding again.")
        lines.append(words % {"notes": note_words(present)})
    return lines


def measured_lines(test: PlayTest, *, report: PlayingReport, surprises: Sequence[Surprise]) -> list[dict[str, Any]]:
    """Each note as measured and as the findings predict it: its cents, and ``excess`` where nothing explains them."""
    notes = {note.written: note for note in report.notes}
    excess = {one.written: one.excess for one in surprises}
    at_pitch = measured(test)
    lines = []
    for row in test.measures:
        written = row["written"]
        note = notes.get(written)
        lines.append(
            {
                "shown": shown_note(written),
                "spoke": row.get("spoke", True),
                "cents": row.get("cents"),
                "corrected": at_pitch.get(written),  # as it would be at 20 degrees Celsius
                "spread": row.get("spread"),
                "tries": row.get("tries") or 1,
                "predicted": note.cents if note else None,
                "predicted_low": note.cents_low if note else None,
                "state": note.state.value if note else "",
                "excess": excess.get(written),
            }
        )
    return lines


def untried_of(test: PlayTest, standing: Standing) -> list[str]:
    """Return the notes of the range that were not played; none where nobody noted which were."""
    if not test.tried_notes:
        return []
    ranges = [notes_at(standing, level) for level in levels_of(standing.kind)] + [voices_of(standing)]
    names = next((names for names in ranges if set(test.tried_notes) <= set(names)), ())
    return [shown_note(name) for name in names if name not in test.tried_notes]


def opinion_of(test: PlayTest) -> str:
    """For a second opinion: is it the instrument or the player?"""
    first = earlier_test(test) if test.is_second_opinion else None
    if first is None or not first.failed_notes:
        return ""
    again = [name for name in first.failed_notes if name in test.failed_notes]
    unheard = [name for name in first.failed_notes if test.tried_notes and name not in test.tried_notes]
    speak = [name for name in first.failed_notes if name not in again and name not in unheard]
    if again and not speak and not unheard:
        words = gettext("The same notes fail for both players (%(notes)s): it is the instrument.")
        return words % {"notes": note_words(again)}
    if speak and not again and not unheard:
        if has_reed(test.instrument.kind):
            return gettext(
                "A second player gets every note that failed before: it is the player or the reed, not the instrument."
            )
        return gettext("A second player gets every note that failed before: it is the player, not the instrument.")
    lines = []
    if again:
        lines.append(
            ngettext(
                "For both players %(notes)s fails: that is the instrument.",
                "For both players %(notes)s fail: that is the instrument.",
                len(again),
            )
            % {"notes": note_words(again)}
        )
    if speak:
        lines.append(
            ngettext(
                "%(notes)s speaks for the second player: that is not the instrument.",
                "%(notes)s speak for the second player: that is not the instrument.",
                len(speak),
            )
            % {"notes": note_words(speak)}
        )
    if unheard:
        lines.append(
            ngettext("%(notes)s was not played again.", "%(notes)s were not played again.", len(unheard))
            % {"notes": note_words(unheard)}
        )
    return " ".join(lines)


def unexplained_words(kind: Kind) -> str:
    """Say where to look when no fault in the catalog explains the notes."""
    if kind.model is PlayingModel.TABLE:
        return gettext("Look at the parts of what failed.")
    if kind.model is PlayingModel.BARS:
        return gettext("No fault in the catalog affects these notes.")
    if has_reed(kind):
        return gettext("No fault in the catalog affects these notes. Check mouthpiece, reed, player and tuning.")
    return gettext("No fault in the catalog affects these notes. Check mouthpiece, player and tuning.")


def has_reed(kind: Kind) -> bool:
    return any(part.role == "reed" for part in kind.parts)
