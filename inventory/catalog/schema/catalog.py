"""Everything the trade knows, in one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache
from typing import Literal

from core.money import dollars, percent
from core.translation import gettext as _
from inventory.catalog.schema.care import CareInterval, Cleaner
from inventory.catalog.schema.entries import Sourced
from inventory.catalog.schema.kinds import Kind, PlayTest, lost_kind
from inventory.catalog.schema.parts import Fault, FittedSet, Part, Role
from inventory.catalog.schema.words import Size, Texts
from inventory.catalog.schema.work import (
    Consumable,
    Guard,
    Hazard,
    Ladder,
    Method,
    OrderRule,
    Overhaul,
    Remedy,
    Rung,
    Tool,
)


@dataclass(frozen=True, slots=True)
class Setting(Sourced):
    """A figure that rules go by, with what it is for: shown beside what was computed with it."""

    code: str
    value: Decimal
    note: str
    unit: str = ""
    name: str = ""  # as a district reads it beside the field; without one it is not set there by itself
    group: Literal["money", "time", "care", "replace", "value", "assign", "notices", "rules"] = "rules"
    low: Decimal = Decimal(0)  # what is accepted
    high: Decimal = Decimal(1_000_000)
    is_whole: bool = False
    is_judged: bool = False  # stored verdicts, readiness or days of care depend on it
    above: str = ""  # the setting whose value it must be more than

    @property
    def is_percent(self) -> bool:
        """Whether a person says it as percent."""
        return self.unit.startswith("share") or self.unit == "a year"

    @property
    def described(self) -> str:
        """The figure with where it comes from and what it is for."""
        return f"{self.in_words}, {self.origin_words}. {self.note}"

    @property
    def origin_words(self) -> str:
        """Where the figure comes from: "shop default"."""
        return _(self.origin.replace("_", " "))

    @property
    def in_words(self) -> str:
        """The value as a person says it: a share as percent, anything else with its unit."""
        if self.is_percent:
            rest = self.unit.removeprefix("share").strip()
            return f"{percent(self.value)} {rest}".strip()
        if self.unit == "dollars an hour":
            return _("%(dollars)s an hour", dollars=dollars(self.value))
        if self.unit == "dollars a day":
            return _("%(dollars)s a day", dollars=dollars(self.value))
        if self.unit == "dollars a year":
            return _("%(dollars)s a year", dollars=dollars(self.value))
        if self.unit in {"month", "day"}:
            return f"{self.unit} {self.value:f}"
        if self.unit == "yes or no":
            return _("yes") if self.value else _("no")
        if self.unit == "dollars":
            return dollars(self.value)
        return f"{self.value.normalize():f} {self.unit}".strip()


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Catalog:
    """Everything the trade knows, by code. Equal only to itself, so that a cache may take it as a key."""

    kinds: Mapping[str, Kind]
    roles: Mapping[str, Role]
    faults: Mapping[str, Fault]
    remedies: tuple[Remedy, ...]
    methods: Mapping[str, Method]
    ladders: Mapping[str, Ladder]
    guards: tuple[Guard, ...]
    order_rules: tuple[OrderRule, ...]
    hazards: Mapping[str, Hazard]
    consumables: Mapping[str, Consumable]
    tools: Mapping[str, Tool]
    play_tests: Mapping[str, PlayTest]
    settings: Mapping[str, Decimal]  # lost-note share that stops a verdict, pitch limit in cents, inspection age …
    intervals: Mapping[str, CareInterval] = field(default_factory=dict)
    cleaners: Mapping[str, Cleaner] = field(default_factory=dict)
    overhauls: Mapping[str, Overhaul] = field(default_factory=dict)
    fitted_sets: Mapping[str, FittedSet] = field(default_factory=dict)
    setting_notes: Mapping[str, Setting] = field(default_factory=dict)

    def sized(self, size: Size) -> Catalog:
        """The same trade with every method as it is done to instruments of a size."""
        return _sized(self, size)

    def kind(self, code: str) -> Kind:
        """The kind with this code; one that the catalog has lost stays readable, with nothing known of it."""
        return self.kinds.get(code) or lost_kind(code)

    def faults_offered(self, part: Part) -> Texts:
        """Return the faults to choose from at a part, most likely first."""
        return (*self.roles[part.role].faults, *part.faults)

    def faults_at(self, part: Part) -> Texts:
        """Return the faults that may be recorded at a part: those offered, and those that older records have."""
        return tuple(dict.fromkeys((*self.faults_offered(part), *self.roles[part.role].accepts)))

    def rung(self, method: str, code: str) -> Rung | None:
        """Return a way on the ladder of a method; None where it has no ladder, or the catalog has dropped the way."""
        known = self.methods.get(method)
        ladder = self.ladders.get(known.ladder) if known else None
        return next((one for one in ladder.rungs if one.code == code), None) if ladder else None

    def tried(self, method: str, rung: str) -> Method | Rung | None:
        """Return what was tried, the way itself if it was one of a ladder."""
        return self.rung(method, rung) or self.methods.get(method)

    def tried_name(self, method: str, rung: str) -> str:
        """What was tried, as the trade says it; a code that the catalog no longer has stays readable."""
        known = self.tried(method, rung)
        return known.name if known else method

    def is_way(self, method: str) -> bool:
        """Whether work on the whole instrument, such as a bath, is a way on the ladder of some stuck part."""
        return any(rung.shared_with == method for ladder in self.ladders.values() for rung in ladder.rungs)

    def fault_name(self, code: str) -> str:
        """The fault as the trade says it; a code that the catalog no longer has stays readable."""
        known = self.faults.get(code)
        return known.name if known else code.replace("_", " ")


@lru_cache(maxsize=32)
def _sized(catalog: Catalog, size: Size) -> Catalog:
    return replace(catalog, methods={code: method.at(size) for code, method in catalog.methods.items()})
