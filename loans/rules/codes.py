"""Codes on papers: short enough to type, with a last character that gives a slip away, and without anybody in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"  # 31, a prime number; none that is taken for another
DRAWN = 7
LENGTH = DRAWN + 1


def new_code(draw: Callable[[Sequence[str]], str]) -> str:
    """Return a code of characters that ``draw`` takes from the letters, and the check character."""
    drawn = "".join(draw(LETTERS) for _ in range(DRAWN))
    return drawn + check_character(drawn)


def check_character(drawn: str) -> str:
    """Return the character that makes the weighted sum what it must be.

    Weights 1 to 7 modulo a prime: one wrong character, or two neighbors swapped, always changes it.
    """
    return LETTERS[sum(at * LETTERS.index(letter) for at, letter in enumerate(drawn, start=1)) % len(LETTERS)]


def code_in(text: str) -> str:
    """Return the code in what was typed or scanned, without spaces and hyphens, or "" where there is no right one."""
    words = text.strip().upper().rstrip("/").rsplit("/", 1)[-1].replace(" ", "").replace("-", "")
    if len(words) != LENGTH or not set(words) <= set(LETTERS):
        return ""
    return words if check_character(words[:DRAWN]) == words[DRAWN] else ""


def in_groups(code: str) -> str:
    """Return the code as it is printed and read out: "ABCD-2345"."""
    return f"{code[:4]}-{code[4:]}"
