"""Setting the district's figures, each from a day on."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import current_act, service
from core.day_bounds import DayBounds
from core.days import full_day
from core.events import Texts, record_event
from core.hooks import Hook
from core.models import User
from inventory.catalog.figures import FigureError, laid_over
from inventory.catalog.load import FOLDER, CatalogError, load_catalog, override_folder
from inventory.exceptions import RefusedError
from inventory.models import District, Figure
from inventory.selectors.figures import REASON, every_value, next_mark, rules, values_on

TO_COME = DayBounds(years_ahead=3)
A_DAY = timedelta(days=1)

recompute: Hook[[], object] = Hook()  # has stored state computed again in the background


def _as_set(_row: None, *, values: Mapping[str, str], effective_on: date, **_posted: Any) -> list[Figure]:
    """The newest of each figure for that day, as a form posted before left it."""
    newest = {row.key: row for row in Figure.objects.filter(key__in=values, effective_on=effective_on).order_by("pk")}
    return list(newest.values())


@service(once="nonce", again=_as_set)
def set_figures(
    *,
    values: Mapping[str, str],
    effective_on: date,
    actor: User | None,
    at: datetime,
    by: User | None = None,
    because: str = "",
    nonce: UUID | None = None,
) -> list[Figure]:
    """Set figures by their keys from a day on, "" for the catalog's own again; those that hold already stay.

    ``because`` says why; it is typed, so a name in it can be taken out later. ``by`` is who sets them where that is not the actor: the first administrator, who is added in the same act.
    Refused: an unknown figure, a value out of its range, a day that has passed, one that is not more than the figure it
    must be above, values that the catalog's rules do not take together.
    """
    today = timezone.localdate(at)
    TO_COME.check(effective_on, today=today)
    district = District.objects.select_for_update(no_key=True).filter(pk=1).first()
    if district is None:
        raise RefusedError(gettext("Name the district first."))
    known, before = rules(), values_on(every_value(), effective_on)
    made = []
    mark = district.figures_mark
    for key, typed in values.items():
        if key not in known:
            raise RefusedError(gettext("There is no figure called %(key)s.") % {"key": key})
        value = checked(key=key, typed=typed)
        if value == before.get(key, ""):
            continue
        row = Figure.objects.create(key=key, value=value, effective_on=effective_on, set_by=by or actor, set_at=at)
        after = {"key": key, "value": value, "effective_on": effective_on}
        was = {"value": before.get(key) or known[key].default}
        texts: Texts | None = {REASON: (None, because)} if because else None
        record_event(act="figure_set", subject=row, before=was, after=after, texts=texts)
        mark = next_mark(mark, key=key, value=value, effective_on=effective_on)
        made.append(row)
    if made:
        _check_rising({row.key for row in made}, effective_on)
        _check_together(before, {**before, **{row.key: row.value for row in made}})
        District.objects.filter(pk=1).update(figures_mark=mark)
        if effective_on == today and any(known[row.key].is_judged for row in made):
            current_act().at_end("recompute", recompute)  # one whose day has not come is found when it has
    return made


def checked(*, key: str, typed: str) -> str:
    """The value for what was typed, as it is kept; "" stays. RefusedError with what is accepted."""
    rule = rules()[key]
    try:
        return rule.read(typed) if typed else ""
    except FigureError as error:
        raise RefusedError(f"{rule.name}: {error}") from None


def _check_rising(made: Collection[str], effective_on: date) -> None:
    """Refuse a figure that is not more than the one it must be above, on its day or by what is entered for a later one."""
    known, rows = rules(), every_value()
    pairs = [
        (one, known[one.above]) for one in known.values() if one.above and not {one.key, one.above}.isdisjoint(made)
    ]
    for day in sorted({effective_on, *(day for _key, _value, day in rows if day > effective_on)}) if pairs else ():
        values = values_on(rows, day)
        for rule, below in pairs:
            value, least = (values.get(one.key) or one.default for one in (rule, below))
            if Decimal(value) <= Decimal(least):
                raise RefusedError(
                    gettext("From %(day)s, “%(name)s” (%(value)s) must be more than “%(below)s” (%(least)s).")
                    % {
                        "day": full_day(day), "name": rule.name, "value": rule.in_words(value),
                        "below": below.name, "least": below.in_words(least),
                    }
                )  # fmt: skip


def _check_together(before: Mapping[str, str], after: Mapping[str, str]) -> None:
    figures = laid_over(rules(), {key: value for key, value in after.items() if value})
    if figures == laid_over(rules(), before):
        return
    try:
        load_catalog(FOLDER, override_folder(), figures)
    except CatalogError as error:
        raise RefusedError(gettext("The catalog does not take that: %(why)s") % {"why": error.problems[0]}) from None


@service
def call_off(*, figure: Figure, actor: User, at: datetime) -> list[Figure]:
    """Take back a value that has not begun: what holds on the day before goes on."""
    if figure.effective_on <= timezone.localdate(at):
        raise RefusedError(gettext("It has already taken effect. Set another value instead."))
    held = values_on(every_value(), figure.effective_on - A_DAY).get(figure.key, "")
    known = rules()[figure.key]
    values = {figure.key: known.typed(held) if held else ""}
    return set_figures(values=values, effective_on=figure.effective_on, actor=actor, at=at)


@service
def note_recomputed(*, judged_by: str, actor: User | None, at: datetime) -> None:
    """Keep with which figures stored state was computed; asked for after all of it was."""
    District.objects.filter(pk=1).update(reckoned_with=judged_by)
