"""The trade catalog as frozen, typed values: what a kind is made of, what can go wrong, what puts it right.

Pure: the standard library and msgspec's annotations, so that every rule may import it. ``inventory.catalog.load`` fills
these from ``fixtures/catalog/*.yaml`` and refuses what does not fit.
"""

from inventory.catalog.schema.care import NO_CARD, CareCard, CareInterval, Cleaner
from inventory.catalog.schema.catalog import Catalog, Setting
from inventory.catalog.schema.kinds import AccessorySpec, Kind, Option, PlayTest
from inventory.catalog.schema.parts import MISSING_PART, Fault, FittedSet, Layout, Part, Place, Role, has_tag
from inventory.catalog.schema.words import (
    Bath,
    Cause,
    Effect,
    Family,
    FaultWay,
    Hygiene,
    In,
    Origin,
    PlayingModel,
    RoleTag,
    Severity,
    Size,
    Skill,
    Wet,
)
from inventory.catalog.schema.work import (
    Consumable,
    Feature,
    Guard,
    Hazard,
    Ladder,
    Method,
    OrderRule,
    Overhaul,
    PartNeed,
    Remedy,
    Rung,
    Tag,
    Tool,
)
