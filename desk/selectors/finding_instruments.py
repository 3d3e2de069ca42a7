"""Find the instrument that somebody scanned or typed."""

from __future__ import annotations

import re
from typing import Any

from inventory.models import Instrument, InstrumentQuerySet, Tag
from inventory.selectors.register import numbered_like
from inventory.services.registering import TOKEN_LENGTH, TOKEN_LETTERS

TOKEN = re.compile(rf"(?:^|/T/)([{TOKEN_LETTERS}]{{{TOKEN_LENGTH}}})/?$", re.IGNORECASE)


def token_in(text: str) -> str:
    """The token in a scanned address or typed text, upper case; "" if there is none."""
    found = TOKEN.search(text.strip())
    return found.group(1).upper() if found else ""


def tag_for(token: str) -> Tag | None:
    """The tag with this token, live or revoked."""
    known = token_in(token)
    joined = "instrument__school", "instrument__merged_into__school", "accessory"
    tag = Tag.objects.select_related(*joined).filter(token=known).first() if known else None
    if tag is not None and tag.instrument.merged_into is not None:
        tag.instrument = tag.instrument.merged_into  # what was merged away leads to what was kept
    return tag


def merged_into(instrument: Instrument) -> InstrumentQuerySet:
    """The records that were merged into this one."""
    return Instrument.objects.filter(merged_into=instrument).order_by("asset_number")


def instruments_matching(user: Any, text: str, *, limit: int = 8) -> list[Instrument]:
    """Instruments the user may see whose tag, number, second number or serial is (or ends in) the text; best match first.

    A record that was merged into another one is found as that one.
    """
    return _kept(user, _matching(user, text, limit=limit))


def instruments_named(user: Any, text: str) -> list[Instrument]:
    """The same, but nothing whose number only holds or ends in the text: a count must not take one for another."""
    return _kept(user, _matching(user, text, limit=8, is_whole=True))


def _kept(user: Any, found: list[Instrument]) -> list[Instrument]:
    keys = {one.merged_into_id for one in found if one.merged_into_id}
    kept = {row.pk: row for row in Instrument.objects.visible_to(user).for_table().filter(pk__in=keys)} if keys else {}
    return list({row.pk: row for row in (kept.get(one.merged_into_id or 0, one) for one in found)}.values())


def instrument_elsewhere(text: str) -> Instrument | None:
    """The instrument of any school whose number or second number is the text. What it is, is not for everybody's eyes."""
    words = text.strip()
    rows = [*Instrument.objects.filter(asset_number__iexact=words)[:1], *Instrument.objects.with_second_number(words)]
    return rows[0] if len({row.pk for row in rows}) == 1 else None


def _matching(user: Any, text: str, *, limit: int, is_whole: bool = False) -> list[Instrument]:
    rows = Instrument.objects.visible_to(user).for_table()
    words = text.strip()
    if not words:
        return []
    token = token_in(words)
    if token:
        return list(rows.filter(tags__token=token, tags__revoked_at=None)[:1])
    exact = [*rows.filter(asset_number__iexact=words)[:1], *rows.with_second_number(words)]
    if exact:
        return list({row.pk: row for row in exact}.values())
    by_serial = list(rows.filter(serial__iexact=words)[:limit])
    if by_serial:
        return by_serial
    if words.isdigit():
        ending = list(rows.filter(asset_number__endswith=words)[: limit * 4])
        whole = [row for row in ending if re.sub(r"\D", "", row.asset_number).lstrip("0") == words.lstrip("0")]
        return (whole or ([] if is_whole else ending))[:limit]
    numbered = numbered_like(rows, words)
    if numbered or is_whole:
        return numbered[:limit]
    return list(rows.filter(asset_number__icontains=words)[:limit])
