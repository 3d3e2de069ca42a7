"""What the pages of an assignment show: lines by class, each with its reasons, what it cost, and what became of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from inventory.rules.playing import level_name
from loans.models import Assignment, AssignmentLine, SharedUse
from loans.rules.assigning import Reason, reason_words

TROUBLE_WORDS = {
    "lent": _("Handed out."),
    "left": _("The student has left."),
    "has": _("The student now has another one of this kind."),
    "other": _("It is now with somebody else."),
    "moved": _("It now belongs to another school."),
    "kept": _("It may not go out."),
}
WEIGHT_WORDS = {
    "same": _("Keeping last time's instrument"),
    "level": _("A make that fits the level, each half step"),
    "condition": _("Good condition, each step"),
    "fairness": _("Not limits twice"),
    "priority": _("Priority of ensembles, each place"),
    "waited": _("Waiting, each month"),
}
FINE = {"lent", ""}


def assignment_page(
    assignment: Assignment, lines: Sequence[AssignmentLine], troubles: Mapping[int, str]
) -> dict[str, Any]:
    """Lines by class; first those that need a look: conflicts, then those who get none."""
    shown = [line_words(line, troubles.get(line.pk, "")) for line in lines]
    groups: dict[str, list[dict[str, Any]]] = {}
    for one in shown:
        period = one["line"].period
        groups.setdefault(period.name if period else gettext("Outside the timetable"), []).append(one)
    needing = [line for line in lines if not _needs_none(line)]
    return {
        "groups": [{"title": title, "lines": rows} for title, rows in groups.items()],
        "conflicts": [one for one in shown if one["trouble"] not in FINE] if not _is_over(assignment) else [],
        "without": [one for one in shown if one["line"].instrument is None and not _needs_none(one["line"])],
        "served": sum(line.instrument_id is not None for line in lines),
        "all": len(needing),
        "lent": sum(code == "lent" for code in troubles.values()),
        "weights": [(str(name), assignment.weights.get(code, 0)) for code, name in WEIGHT_WORDS.items()],
        "points": sum(one["points"] for one in shown if one["line"].instrument is not None),
    }


def _is_over(assignment: Assignment) -> bool:
    return assignment.state == Assignment.State.DROPPED


def _needs_none(line: AssignmentLine) -> bool:
    return any(reason["code"] == "no_longer" for reason in line.why)


def line_words(line: AssignmentLine, trouble: str = "") -> dict[str, Any]:
    """One line: who, what, why, and what became of it."""
    points = sum(reason["points"] for reason in line.why)
    return {
        "line": line,
        "what": " ".join(filter(None, (line.kind_name, line.size))),
        "level": level_name(line.level) if line.level else "",
        "why": why_words(line),
        "points": points,
        "trouble": trouble,
        "trouble_words": str(TROUBLE_WORDS[trouble]) if trouble else "",
    }


def why_words(line: AssignmentLine) -> str:
    """Say the reasons of a line, each with the points that it cost."""
    reasons = []
    for stored in line.why:
        reason = Reason(**stored)
        words = reason_words(reason)
        if reason.points:
            cost = ngettext("%(points)d point", "%(points)d points", reason.points) % {"points": reason.points}
            words = f"{words.removesuffix('.')} ({cost})."
        reasons.append(words)
    return " ".join(reasons)


def hand_out_groups(lines: Sequence[AssignmentLine], shared: Sequence[SharedUse] = ()) -> list[dict[str, Any]]:
    """The lines with an instrument, by class, for paper; ``shared`` is used there and stays in the room."""
    groups: dict[str, dict[str, list[Any]]] = {}
    for line in lines:
        if line.instrument is not None:
            title = line.period.name if line.period else gettext("Outside the timetable")
            groups.setdefault(title, {"lines": [], "shared": []})["lines"].append(line)
    for use in shared:
        groups.setdefault(use.period.name, {"lines": [], "shared": []})["shared"].append(use)
    return [{"title": title, **rows} for title, rows in groups.items()]
