"""Find the instrument that somebody scanned or typed."""

from __future__ import annotations

import re
from typing import Any

from inventory.models import Instrument, Tag
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
    return Tag.objects.select_related("instrument__school", "accessory").filter(token=known).first() if known else None


def instruments_matching(user: Any, text: str, *, limit: int = 8) -> list[Instrument]:
    """Instruments the user may see whose tag, number or serial is (or ends in) the text; best match first."""
    rows = Instrument.objects.visible_to(user).for_table()
    words = text.strip()
    if not words:
        return []
    token = token_in(words)
    if token:
        return list(rows.filter(tags__token=token, tags__revoked_at=None)[:1])
    exact = list(rows.filter(asset_number__iexact=words)[:1])
    if exact:
        return exact
    by_serial = list(rows.filter(serial__iexact=words)[:limit])
    if by_serial:
        return by_serial
    if words.isdigit():
        ending = list(rows.filter(asset_number__endswith=words)[: limit * 4])
        whole = [row for row in ending if re.sub(r"\D", "", row.asset_number).lstrip("0") == words.lstrip("0")]
        return (whole or ending)[:limit]
    numbered = numbered_like(rows, words)
    if numbered:
        return numbered[:limit]
    return list(rows.filter(asset_number__icontains=words)[:limit])
