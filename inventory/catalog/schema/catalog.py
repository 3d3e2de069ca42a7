"""Everything the trade knows, in one value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from inventory.catalog.schema.care import CareInterval
from inventory.catalog.schema.kinds import Kind, PlayTest, lost_kind
from inventory.catalog.schema.parts import Fault, FittedSet, Role
from inventory.catalog.schema.work import (
    Consumable,
    Guard,
    Hazard,
    Ladder,
    Method,
    OrderRule,
    Overhaul,
    Remedy,
    Tool,
)


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
    overhauls: Mapping[str, Overhaul] = field(default_factory=dict)
    fitted_sets: Mapping[str, FittedSet] = field(default_factory=dict)

    def kind(self, code: str) -> Kind:
        """The kind with this code; one that the catalog has lost stays readable, with nothing known of it."""
        return self.kinds.get(code) or lost_kind(code)

    def fault_name(self, code: str) -> str:
        """The fault as the trade says it; a code that the catalog has lost stays readable."""
        known = self.faults.get(code)
        return known.name if known else code.replace("_", " ")
