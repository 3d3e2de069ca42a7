"""Names in lists, and what a contact is."""

from __future__ import annotations

import re

# What follows a family name and belongs to it. From memory, no source.
AFTER_FAMILY_NAME = frozenset(["jr", "jr.", "sr", "sr.", "ii", "iii", "iv"])
EMAIL = re.compile(r"[^\s@,;<>]+@[^\s@,;<>]+\.[^\s@,;<>.]+")
PHONE = re.compile(r"[+(\d][\d\s().+/-]*(?:(?:ext|x)\.?\s*\d+)?", re.IGNORECASE)
LEAST_DIGITS = 7
LONGEST_PHONE = 40


def sort_name_of(name: str) -> str:
    """Return a person's name as lists sort it: "Ana Rivera" as "Rivera, Ana". The last word counts as family name."""
    words = name.split()
    first = next((at for at in range(len(words) - 1, 0, -1) if words[at].lower() not in AFTER_FAMILY_NAME), 0)
    if first == 0 or "," in name:
        return " ".join(words)
    return f"{' '.join(words[first:])}, {' '.join(words[:first])}"


def contact_parts(text: str) -> dict[str, str]:
    """Return a contact as typed, under what it is: "email", "phone", or "contact" for anything else."""
    words = text.strip()
    if EMAIL.fullmatch(words):
        return {"email": words}
    digits = sum(sign.isdecimal() for sign in words)
    if PHONE.fullmatch(words) and digits >= LEAST_DIGITS and len(words) <= LONGEST_PHONE:
        return {"phone": words}
    return {"contact": words} if words else {}
