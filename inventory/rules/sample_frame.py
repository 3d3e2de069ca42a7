"""The frame of a sample: the list of instruments it is drawn from, by stratum, as a text that can be kept and hashed."""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from string import ascii_uppercase

from core.money import CENT, dollars
from core.translation import gettext as _

WHOLE = "all"  # the one stratum of a frame without strata
MOST_BANDS = 6


@dataclass(frozen=True, slots=True)
class ValueBands:
    """Strata by replacement cost. ``cuts`` in dollars, rising; an amount at a cut belongs to the band above it."""

    cuts: tuple[Decimal, ...]

    def __post_init__(self) -> None:
        if not 1 <= len(self.cuts) < MOST_BANDS or any(
            one >= other for one, other in pairwise((Decimal(0), *self.cuts))
        ):
            raise ValueError(f"cuts must rise from above 0, {MOST_BANDS - 1} at most: {self.cuts}")

    def of(self, amount: Decimal) -> str:
        """Return the name of the band that an amount is in: "A", "B", and so on upward."""
        return ascii_uppercase[bisect_right(self.cuts, amount)]

    def labels(self) -> dict[str, str]:
        """Return each band's name with its amounts in words."""
        first, last = self.cuts[0], self.cuts[-1]
        words = [_("under %(amount)s", amount=dollars(first))]
        words += [
            _("%(low)s to %(high)s", low=dollars(low), high=dollars(high - CENT)) for low, high in pairwise(self.cuts)
        ]
        words.append(_("%(amount)s and up", amount=dollars(last)))
        return dict(zip(ascii_uppercase, words, strict=False))


def frame_text(strata: Mapping[str, Iterable[str]]) -> str:
    """Return a line for each instrument, stratum and asset number with a tab between, sorted by both. It ends in one."""
    lines = sorted((name, number) for name, numbers in strata.items() for number in numbers)
    return "".join(f"{name}\t{number}\n" for name, number in lines)


def strata_in(text: str) -> dict[str, list[str]]:
    """Return the strata of a frame that was kept as text."""
    strata: dict[str, list[str]] = defaultdict(list)
    for line in text.split("\n")[:-1]:
        name, _tab, number = line.partition("\t")
        strata[name].append(number)
    return dict(strata)


def frame_hash(text: str) -> str:
    """Return the SHA-256 of the text in UTF-8, as sha256sum prints it of the file."""
    return hashlib.sha256(text.encode()).hexdigest()


def cuts_of(amounts: Sequence[str]) -> tuple[Decimal, ...]:
    """Return cuts as they were kept."""
    return tuple(Decimal(one) for one in amounts)
