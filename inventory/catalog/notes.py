"""What each figure of the settings is for, in words: shown beside what was computed with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from inventory.catalog.load import FOLDER, catalog, override_folder
from inventory.catalog.load.folder import read_folder


@dataclass(frozen=True, slots=True)
class SettingNote:
    code: str
    value: Decimal
    unit: str
    note: str
    origin: str

    @property
    def origin_words(self) -> str:
        """Say where the figure comes from: "shop default"."""
        return self.origin.replace("_", " ")

    @property
    def told(self) -> str:
        """Tell the figure with what it is for and where it comes from."""
        return f"{self.said}, {self.origin_words}. {self.note}"

    @property
    def said(self) -> str:
        """Say the value as a person would: a share as per cent, anything else with its unit."""
        if self.unit.startswith("share") or self.unit == "a year":
            rest = self.unit.removeprefix("share").strip()
            return f"{(self.value * 100).normalize():f}% {rest}".strip()
        if self.unit == "dollars an hour":
            return f"${self.value:,.2f} an hour".replace(".00", "")
        if self.unit in {"month", "day"}:
            return f"{self.unit} {self.value:f}"
        if self.unit == "dollars":
            return f"${self.value:,.2f}".removesuffix(".00")
        return f"{self.value.normalize():f} {self.unit}".strip()


@cache
def setting_notes() -> Mapping[str, SettingNote]:
    """Return the note of every setting, a district's own words over the catalog's; read once a process."""
    tree = read_folder(folder=FOLDER, override=override_folder())
    values = catalog().settings
    return {
        code: SettingNote(
            code=code,
            value=values[code],
            unit=str(entry.get("unit", "")),
            note=str(entry.get("note", "")),
            origin=str(entry.get("origin", tree.origins.get(("settings", code), ""))),
        )
        for code, entry in tree.sections["settings"].items()
        if code in values
    }
