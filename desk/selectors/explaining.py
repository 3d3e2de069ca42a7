"""One instrument explained in plain data: what is wrong, what that does, what would put it right."""

from __future__ import annotations

from datetime import date
from typing import Any

from desk.selectors.explaining_notes import fit_as_dict, notes_as_dict, play_test_as_dict, tuning_as_dict
from inventory.models import Instrument, Readiness
from inventory.selectors.standing import standing_of
from inventory.selectors.state import reasons_today
from repairs.models import Job
from repairs.rules.plan.report import plan_as_dict
from repairs.selectors.planning import plan_for_instrument


def explanation(instrument: Instrument, *, today: date) -> dict[str, Any]:
    """JSON-ready: kind, verdict, whereabouts, readiness with reasons, findings, notes, fit, play test, plan."""
    standing = standing_of(instrument)
    judgement = standing.judgement
    job = Job.objects.open().filter(instrument=instrument).select_related("bench").first()
    plan = plan_for_instrument(instrument, standing=standing, job=job)
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
            for reason in reasons_today(instrument, today=today)
        ],
        "limits": list(instrument.limits),
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
        "tuning_range": tuning_as_dict(judgement.report.tuning_range),
        "functions_lost": list(judgement.report.functions_lost),
        "fit": fit_as_dict(standing),
        "play_test": play_test_as_dict(instrument, standing),
        "plan": plan_as_dict(plan),
    }
