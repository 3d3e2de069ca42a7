"""The stock by kind in words: "3 may go out, 2 on the bench, 15 lent"."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext, ngettext


def stock_lines(counts: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """A line for each kind, as desk.selectors.today.kind_counts counts it, with the list that it counts."""
    return [
        {
            "name": count["name"],
            "total": count["total"],
            "words": stock_words(count),
            "url": f"{reverse('inventory:list')}?{urlencode({'kind': count['code']})}",
            "is_short": not count["ready"] + count["limited"],
        }
        for count in counts
    ]


def stock_words(count: Mapping[str, Any]) -> str:
    """What may go out comes first, even if it is none; of the rest, what there is."""
    ready, limited = count["ready"] + count["limited"], count["limited"]
    words = [gettext("%(count)d may go out") % {"count": ready} if ready else gettext("none may go out")]
    if limited:
        words.append(gettext("%(count)d of them with limits") % {"count": limited})
    if count["kept_in"]:
        stay = ngettext("%(count)d stays in", "%(count)d stay in", count["kept_in"])
        words.append(stay % {"count": count["kept_in"]})
    if count["bench"]:
        words.append(gettext("%(count)d on the bench") % {"count": count["bench"]})
    if count["out"]:
        words.append(gettext("%(count)d lent") % {"count": count["out"]})
    return ", ".join(words)
