"""How the terms are laid out: paragraphs, each with its lead-in, and which language they are in."""

from __future__ import annotations

import re

ENGLISH, SPANISH = "en", "es"
LONGEST_LEAD = 60  # letters; a whole sentence in bold leads nobody in
LEAD = re.compile(rf"\s*([^.:\n]{{1,{LONGEST_LEAD}}}[.:])(\s+\S.*)", re.DOTALL)


def paragraphs_of(text: str) -> list[tuple[str, str]]:
    """Return each paragraph as lead-in and the rest: "Care." and " The student …". Without a lead-in the first is ""."""
    return [_parted(part.strip()) for part in text.split("\n\n") if part.strip()]


def _parted(paragraph: str) -> tuple[str, str]:
    found = LEAD.fullmatch(paragraph)
    return (found[1], found[2]) if found else ("", paragraph)
