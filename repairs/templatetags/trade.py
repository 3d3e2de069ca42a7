"""Names of the trade catalog in templates, for whatever a selector gives by its code."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from django import template
from django.utils.translation import gettext, ngettext

from core.days import full_day
from inventory.catalog.load import catalog
from inventory.models import Finding, Whereabouts
from inventory.rules.verdict import finding_name
from repairs.rules.season import Bill
from repairs.selectors.care import CareDue
from repairs.selectors.season import BackLine

register = template.Library()


@register.filter
def fault_name(code: str) -> str:
    return catalog().fault_name(code)


@register.filter
def method_name(code: str) -> str:
    """Return the name of a method; "" if the catalog has it no more."""
    method = catalog().methods.get(code)
    return method.name if method else ""


@register.filter
def tool_names(codes: Sequence[str]) -> str:
    known = catalog().tools
    return ", ".join(known[code].name if code in known else code.replace("_", " ") for code in codes)


@register.filter
def care_words(due: CareDue) -> str:
    """Return "with a student · last Mar 3, 2026, 12 days over". A page has hundreds; template tags would be slow."""
    is_there = due.instrument.whereabouts == Whereabouts.IN_STORE
    where = "" if is_there else f"{Whereabouts(due.instrument.whereabouts).label.lower()} · "
    day = due.last_on
    last = gettext("last %(last_on)s") % {"last_on": full_day(day)} if day else ""
    over = ngettext("%(number)s day over", "%(number)s days over", due.days_over) % {"number": f"{due.days_over:,}"}
    return f"{where}{last or gettext('never recorded')}, {over if due.days_over else gettext('due today')}"


@register.filter
def counted_faults(counts: Iterable[tuple[str, int]]) -> str:
    """Return "stuck slide (4), dent (2)"."""
    return ", ".join(f"{fault_name(code)} ({count})" for code, count in counts)


@register.filter
def billed_work(bills: Iterable[Bill]) -> str:
    """Return the three commonest kinds of work, with how often each was billed."""
    counted: Counter[str] = Counter()
    for bill in bills:
        counted[bill.method] += bill.count
    return ", ".join(name if count == 1 else f"{name} ({count})" for name, count in counted.most_common(3))


@register.filter
def back_words(line: BackLine) -> str:
    """Return "Third valve slide: stuck or seized slide"."""
    _, part, place, fault = line.back.repaired.spot
    return f"{line.instrument.kind.where(part, place)}: {fault_name(fault)}"


@register.filter
def finding_row_words(row: Finding) -> str:
    """Return a finding in words, with its part as far as the catalog still has it."""
    part = next((one for one in row.instrument.kind.parts if one.code == row.part), None)
    return finding_name(finding=row.fact, part=part, faults=catalog().faults)
