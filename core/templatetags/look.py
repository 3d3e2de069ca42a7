"""Template tags for the shared look: money, counted words, the current place in the navigation."""

from __future__ import annotations

import re
import uuid
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from itertools import pairwise
from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext

from core.days import full_day, short_day
from core.money import dollars

register = template.Library()
YEAR_IS_CLEAR = timedelta(days=330)  # nobody takes the same day of another year for it
LEAST_DIGITS = 7  # of a phone number without area code
REACHED_BY = re.compile(r"[\w.+-]+@[\w-]+(?:\.[\w-]+)+|\+?\(?\d[\d ().-]{5,}\d")


@register.simple_tag
def once_key() -> SafeString:
    """The key of a form that counts once (``core.forms.OnceForm``), where a page shows the same form several times."""
    return format_html('<input type="hidden" name="nonce" value="{}">', uuid.uuid4())


@register.filter
def money(amount: Decimal | float | str | None) -> str:
    """Format an amount with ``core.money.dollars``; text that is not a number stays as it is."""
    try:
        return dollars(None if amount == "" else amount)
    except InvalidOperation:
        return str(amount)


@register.filter
def money_to(low: Decimal | float | str | None, high: Decimal | float | str | None) -> str:
    """Return a span of amounts: "$4 to $6", or "$4" where both ends read the same."""
    first, last = money(low), money(high)
    return first if first == last else gettext("%(low)s to %(high)s") % {"low": first, "high": last}


@register.filter
def mid_sentence(name: str) -> str:
    """Return a name as it reads within a sentence: "clarinet in Bb"."""
    return name[:1].lower() + name[1:]


@register.filter
def day_near(day: date, today: date) -> str:
    """Return a day with its year where that is not clear from today: "Jun 7", "May 26, 2028"."""
    return short_day(day) if abs(day - today) < YEAR_IS_CLEAR else full_day(day)


@register.filter
def figure(amount: Decimal | float | None) -> str:
    """Format a quantity without trailing zeros: "2", "0.15", "−1.5"; at most three places; "" for None."""
    if amount is None:
        return ""
    value = Decimal(str(amount)).quantize(Decimal("0.001"))
    shown = f"{abs(value):,.3f}".rstrip("0").rstrip(".")
    return f"−{shown}" if value < 0 else shown


@register.filter
def counted(number: int, word: str) -> str:
    """Return "1 finding", "3 findings"; ``word`` may give the plural after a comma: "loss,losses".

    Mark the word in the template: ``n|counted:_("finding")``; a translation gives both forms with a comma.
    """
    one, _, many = str(word).partition(",")
    return f"{number:,} {one if number == 1 else many or one + 's'}"


@register.filter
def cents(value: float | None) -> str:
    """Format a deviation with its sign, as on a tuner: "+30", "−12", "0"; "" for None."""
    if value is None:
        return ""
    rounded = round(value)
    return f"+{rounded}" if rounded > 0 else f"−{-rounded}" if rounded < 0 else "0"


@register.filter
def reach(value: str) -> str:
    """Return a "tel:" or "mailto:" link for contact details, or "" if they are neither."""
    words = value.strip()
    if "@" in words and " " not in words:
        return f"mailto:{words}"
    digits = "".join(sign for sign in words if sign.isdigit() or sign == "+")
    return f"tel:{digits}" if len(digits) >= LEAST_DIGITS and not any(sign.isalpha() for sign in words) else ""


@register.filter
def linked(text: str) -> SafeString:
    """Return a contact as typed, the phone numbers and e-mail addresses in it as links."""
    ends = [0, *(end for piece in REACHED_BY.finditer(text) for end in piece.span()), len(text)]
    pieces = [text[start:end] for start, end in pairwise(ends)]
    return format_html_join("", "{}", ((_linked(piece),) for piece in pieces))


def _linked(piece: str) -> str:
    url = reach(piece) if REACHED_BY.fullmatch(piece) else ""
    return format_html('<a class="link" href="{}">{}</a>', url, piece) if url else piece


@register.simple_tag(takes_context=True)
def here(context: dict[str, Any], url: str, *, whole: bool = False) -> str:
    """Return a link's ``aria-current``: "page" at ``url``, "true" below it (not with ``whole``), else "".

    The style sheet draws it.
    """
    request = context.get("request")
    if request is None or not url:
        return ""
    path: str = request.path
    if path == url:
        return "page"
    below = not whole and url != "/" and path.startswith(url.rstrip("/") + "/")
    return "true" if below else ""
