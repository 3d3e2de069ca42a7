"""One instrument as plain data: what is wrong, what that means, what would fix it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from django.utils import timezone

from desk.selectors.instrument_record import open_job_of
from inventory.models import Instrument, Readiness
from inventory.pages.trends import trend_page
from inventory.rules.playing import for_everybody, level_fits
from inventory.rules.standing import Standing
from inventory.selectors.charts import unconfirmed_chart
from inventory.selectors.playing import intonation_of
from inventory.selectors.standing import standing_of
from inventory.selectors.state import reasons_today, state_words_of
from repairs.rules.plan.report import plan_as_dict
from repairs.selectors.planning import plan_for_instrument


def explanation(instrument: Instrument, *, today: date) -> dict[str, Any]:
    """JSON-ready: kind, verdict, whereabouts, readiness with reasons, findings, notes, fit, play test, plan."""
    standing, words = standing_of(instrument), state_words_of([instrument])[instrument.pk]
    judgement, tuning = standing.judgement, standing.judgement.report.tuning_range
    plan = plan_for_instrument(instrument, standing=standing, job=open_job_of(instrument))
    aged = instrument.ready_until is not None and today > instrument.ready_until
    return {
        "asset_number": instrument.asset_number,
        "kind": instrument.kind_code,
        "kind_name": instrument.kind.name,
        "school": instrument.school.code,
        "verdict": instrument.verdict,
        "whereabouts": instrument.whereabouts,
        "readiness": Readiness.STAYS_IN.value if aged else instrument.readiness,
        "reasons": [
            {"code": reason["code"], "text": reason["text"], "clears": reason["clears"]}
            for reason in reasons_today(instrument, today=today, words=words)
        ],
        "limits": list(words.limits),
        "findings": [
            {
                "part": effect.finding.part,
                "place": effect.finding.place,
                "fault": effect.finding.fault,
                "fault_name": standing.catalog.fault_name(effect.finding.fault),
                "severity": effect.finding.severity.value,
                "detail": effect.finding.detail,
                "effect": effect.effect.value,
                "group": effect.group,
                "sentence": effect.sentence,
            }
            for effect in judgement.effects
        ],
        "notes": notes_as_dict(standing),
        # Cents from A4 = 440; None where no main slide tunes the instrument.
        "tuning_range": asdict(tuning) if tuning else None,
        "functions_lost": list(judgement.report.functions_lost),
        "fit": fit_as_dict(standing),
        "play_test": play_test_as_dict(instrument, standing),
        "plan": plan_as_dict(plan),
    }


def notes_as_dict(standing: Standing) -> dict[str, Any]:
    """Counts and lists, then every note; ``because`` are positions in the list of findings, cents to a thousandth."""
    chart, report = standing.chart, standing.judgement.report
    notes = report.notes
    return {
        "level": report.level,
        "count": len(notes),
        "lost": [note.written for note in notes if note.state == "lost"],
        "off": [{"written": note.written, "cents": note.cents} for note in notes if note.state == "off"],
        "other_fingering": [
            {"written": note.written, "fingering": note.fingering} for note in notes if note.state == "other_fingering"
        ],
        "all": [
            {
                "written": note.written,
                "sounding": note.sounding,
                "state": note.state.value,
                "fingering": note.fingering,
                **note.figures,
                "because": list(note.because),
                "weak": note.is_weak,
            }
            for note in notes
        ],
        "chart": chart.code if chart else None,
        "origin": report.origin,
        "verified": not unconfirmed_chart(chart),
    }


def fit_as_dict(standing: Standing) -> dict[str, Any]:
    """What each level would miss, by notes and in words."""
    reports = standing.reports
    fits = level_fits(reports=reports)
    return {
        "words": " ".join([*(f"{one.name}: {one.words}." for one in fits), *for_everybody(reports=reports)]),
        "levels": {
            one.level: {
                "hurts": not one.is_enough,
                "lost": list(one.lost),
                "off": list(one.off),
                "other_fingering": list(one.other),
                "functions_lost": list(one.functions_lost),
                "words": one.words,
            }
            for one in fits
        },
    }


def play_test_as_dict(instrument: Instrument, standing: Standing) -> dict[str, Any] | None:
    """The latest test, what it heard that no finding explains, and the trend of all; None if it was never tested."""
    page = trend_page(instrument)
    if not page["rows"]:
        return None
    latest, drift = page["rows"][-1]["test"], page["drift"]
    found = intonation_of(latest, report=standing.widest_report)
    return {
        "result": latest.result,
        "played_on": timezone.localdate(latest.played_at).isoformat(),
        "failed_notes": list(latest.failed_notes),
        "weak_notes": list(latest.weak_notes),
        "tried_notes": list(latest.tried_notes),
        "limits": latest.limits_text,
        "measured": len(latest.measures),
        "unexplained": [
            {
                "written": one.written,
                "measured": round(one.measured, 1),
                "predicted": round(one.predicted, 1),
                "excess": round(one.excess, 1),
                "against": one.against.value,
            }
            for one in found.surprises
        ],
        "throughout": round(found.general, 1) if found.general is not None and found.is_off_throughout else None,
        "trend": {
            "tests": len(page["rows"]),
            "cents_per_year": None if drift is None else round(drift.cents_per_year, 2),
            "drifts": drift is not None and drift.is_flagged,
            "words": page["words"],
        },
    }
