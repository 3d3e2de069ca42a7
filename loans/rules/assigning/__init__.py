"""Who gets which instrument: wishes and instruments go in, a proposal that is proven the best comes out.

Pure. ``assign`` proposes, ``reason_words`` says a line's reasons; ``stop_of`` and ``points_of`` judge one pair.
"""

from __future__ import annotations

from loans.rules.assigning.facts import (
    Keeps,
    Offer,
    Reason,
    Stop,
    Wanted,
    Weights,
)
from loans.rules.assigning.fit import points_of, stop_of
from loans.rules.assigning.proposal import Line, Proposal, assign
from loans.rules.assigning.words import reason_words

__all__ = [
    "Keeps",
    "Line",
    "Offer",
    "Proposal",
    "Reason",
    "Stop",
    "Wanted",
    "Weights",
    "assign",
    "points_of",
    "reason_words",
    "stop_of",
]
