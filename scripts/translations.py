"""Compiles locale/*/LC_MESSAGES/*.po, which gettext reads as .mo; what is up to date stays."""

from __future__ import annotations

from pathlib import Path

from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

ROOT = Path(__file__).resolve().parent.parent


def main() -> None:
    for source in sorted(ROOT.glob("locale/*/LC_MESSAGES/*.po")):
        target = source.with_suffix(".mo")
        if target.exists() and target.stat().st_mtime >= source.stat().st_mtime:
            continue
        with source.open("rb") as file:
            messages = read_po(file)
        part = target.with_suffix(".part")  # a set-up that is interrupted leaves no half of it
        with part.open("wb") as file:
            write_mo(file, messages)
        part.replace(target)


if __name__ == "__main__":
    main()
