"""Wear or damage as a family reads it, in its language: how the instrument came back, and what may be charged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from core.money import cents, dollars
from desk.selectors.charging import Changed, Charge, Cost, Returned, back_on
from inventory.catalog.load.language import stored_language
from inventory.catalog.schema import Severity
from inventory.models import Photo
from loans.selectors.comparing import finding_in_words
from loans.selectors.families import day_in, thing_in, where_in, words_in

Photos = Mapping[str, Photo]


@stored_language()
def damage_page(
    returned: Returned,
    charge: Charge | None,
    *,
    language: str,
    photos: tuple[Photos, Photos],
    addresses: Mapping[int, str],
    sender: str,
) -> dict[str, Any]:
    """Return everything on the paper. ``addresses`` are those of the photos that are at hand, by key."""
    loan, words = returned.loan, words_in(language)
    return {
        "language": language,
        "words": words,
        "over": loan.school.name,
        "title": words["damage_title"],
        "out": words["damage_over"].format(
            lent=day_in(language, returned.first.lent_on), back=day_in(language, back_on(loan))
        ),
        "instrument": f"{thing_in(language, loan.instrument.kind.name)} {loan.instrument.asset_number}",
        "student": loan.student.name,
        "changes": [_change(one, returned, language, photos, addresses) for one in returned.changes],
        "missing": [f"{one.count} × {thing_in(language, one.name)}" for one in returned.short],
        "lines": _lines(charge, language) if charge and not charge.unpriced else [],
        "entries": [
            (words["was_charged"].format(day=day_in(language, one.on)), dollars(one.amount)) for one in returned.entries
        ],
        "questions": words["questions"].format(school=loan.school.name, name=sender, phone=loan.school.phone or "—"),
    }


def _change(
    one: Changed, returned: Returned, language: str, photos: tuple[Photos, Photos], addresses: Mapping[int, str]
) -> dict[str, Any]:
    words, row = words_in(language), one.row
    where, fault = finding_in_words(returned.loan.instrument.kind, part=row.part, place=row.place, fault=row.fault)
    months = words["month" if returned.months == 1 else "months"].format(count=returned.months)
    shown = [
        (words[key].format(day=day_in(language, timezone.localtime(photo.taken_at))), addresses[photo.pk])
        for key, photo in zip(("photo_then", "photo_now"), (part.get(row.part) for part in photos), strict=True)
        if photo is not None and photo.pk in addresses
    ]
    return {
        "what": f"{where_in(language, where)}: {thing_in(language, fault)}",
        "then": f"{words['at_hand_out']}: {_severity(row.before, words)}",
        "now": f"{words['at_return']}: {_severity(row.after, words)}",
        "ruling": words[f"ruling_{one.ruling.value}"].format(time=months),
        "photos": shown,
    }


def _severity(severity: Severity | None, words: Mapping[str, str]) -> str:
    return words[severity.value] if severity else words["not_there"]


def _lines(charge: Charge, language: str) -> list[dict[str, Any]]:
    words, facts, value, cap = words_in(language), charge.facts, charge.value, charge.cap
    lines = [_line(_cost_label(one, words), one.amount) for one in charge.costs]
    if charge.as_lent_amount:
        lines.append(_line(words["as_lent"], -charge.as_lent_amount))
    age = words["age" if facts.age_years is not None else "age_assumed"].format(life=facts.life_years)
    lines += [
        _line(words["cost_sum"], cap.cost, is_sum=True),
        _line(words["price_new"], facts.replacement_amount),
        {"label": age, "text": str(value.age_years), "is_sum": False},
        _line(_line_words(charge, words), value.playing_amount),
        *([_line(words["repair_due"], -facts.repair_amount)] if facts.repair_amount else []),
        _line(words["value_back"], cap.value, is_sum=True),
        *([_line(words["charged_before"], -cap.charged)] if cap.charged else []),
        _line(words["most"], cap.amount, is_sum=True),
    ]
    return lines


def _line_words(charge: Charge, words: Mapping[str, str]) -> str:
    """Return how the value in playing condition came about: by straight line, or by the share that one keeps while it plays."""
    share = charge.facts.playing_share
    if charge.value.playing_amount != cents(charge.facts.replacement_amount * share):
        return words["straight_line"]
    return words["while_it_plays"].format(share=f"{share * 100:.0f}%")


def _line(label: str, amount: Any, *, is_sum: bool = False) -> dict[str, Any]:
    return {"label": label, "text": dollars(amount), "is_sum": is_sum}


def _cost_label(one: Cost, words: Mapping[str, str]) -> str:
    label = words[f"cost_{one.basis.value}"].format(number=one.number)
    if one.amount == one.whole:
        return label
    return f"{label}, {words['share_of'].format(whole=dollars(one.whole))}"
