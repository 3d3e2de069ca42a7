"""What entries of the catalog have in common."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from typing import Annotated

from inventory.catalog.schema.words import In, Origin, Texts


@dataclass(frozen=True, slots=True)
class Sourced:
    """An entry that says where its figures come from."""

    _: KW_ONLY
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, slots=True)
class Entry(Sourced):
    """An entry that others refer to by its code and people by its name."""

    code: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Selective:
    """An entry that is only for some kinds."""

    kinds: Annotated[Texts, In("kinds")] = ()  # empty: any kind
    only_if: Annotated[str, In("features")] = ""
    unless: Annotated[str, In("features")] = ""
