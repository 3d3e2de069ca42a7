"""Words of the first steps, each with the page where it is done, and of a link that opens nothing."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from inventory.catalog.figures import BENCH_RATE, SCHOOL_YEAR_ENDS, TIME_ZONE
from inventory.selectors.opening import FirstSteps, Standing

# Code -> what to do, why, the page with its arguments.
STEPS: dict[str, tuple[Promise, Promise, str, tuple[str, ...]]] = {
    "district": (
        _("Name the district"),
        _("And how its instruments are numbered."),
        "inventory:settings",
        (),
    ),
    "schools": (
        _("Add schools and their rooms"),
        _("Every school with at least one room, shelf or cabinet."),
        "inventory:schools",
        (),
    ),
    "time_zone": (_("Set the time zone"), _("Each day begins and ends by it."), "inventory:figure", (TIME_ZONE,)),
    "bench_rate": (
        _("Say what an hour at your bench costs"),
        _("Plans and advice are priced with it."),
        "inventory:figure",
        (BENCH_RATE,),
    ),
    "school_year": (
        _("Say when the school year ends"),
        _("Loans run until then unless you choose otherwise."),
        "inventory:figure",
        (SCHOOL_YEAR_ENDS,),
    ),
    "people": (
        _("Add the people who work with the instruments"),
        _("A director for each school, and the people who repair."),
        "inventory:people",
        (),
    ),
    "list": (
        _("Bring your list"),
        _("The spreadsheet you have, as it is. Nothing is saved before you have seen it."),
        "inventory:import",
        (),
    ),
    "tags": (_("Print tags"), _("A code for each instrument, to scan with a phone."), "inventory:labels", ()),
}


def step_lines(steps: FirstSteps) -> dict[str, Any]:
    """The list in the order in which things are done, what is left first, with what comes next marked."""
    lines = [
        {"code": code, "what": what, "why": why, "url": reverse(page, args=args), "is_done": steps.done[code]}
        for code, (what, why, page, args) in STEPS.items()
    ]
    return {
        "lines": sorted(lines, key=lambda line: line["is_done"]),
        "done": sum(line["is_done"] for line in lines),
        "next": next((line for line in lines if not line["is_done"]), None),
        "is_aside": steps.is_aside,
        "is_finished": steps.is_finished,
    }


CLOSED: dict[Standing, tuple[Promise, Promise]] = {
    Standing.UNKNOWN: (
        _("This link is not valid"),
        _(
            "Check that you copied all of it. Each start of the server prints a new link, and only the last one works: "
            "use that, or have a new one printed where the server runs, by manage.py opening_link."
        ),
    ),
    Standing.EXPIRED: (
        _("This link has expired"),
        _("It works for 24 hours. Start the server again, or run manage.py opening_link there, for a new one."),
    ),
    Standing.USED: (
        _("This link has been used"),
        _("Hornbook is set up. The person who set it up logs in with the user name and password they chose then."),
    ),
    Standing.VOID: (
        _("Hornbook is set up already"),
        _("It has an administrator, so this link does nothing. Log in, or ask the administrator to add you."),
    ),
}
