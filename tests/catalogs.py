"""The catalog of this installation, replaced for a while."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from decimal import Decimal

import pytest

from inventory.catalog import load
from inventory.catalog.schema import Catalog


@contextmanager
def using(trade: Catalog) -> Iterator[None]:
    """Let everything read ``trade``; afterwards the very object from before is back, with all that is remembered of it."""
    kept = load.catalog()
    try:
        _put(trade)
        yield
    finally:
        _put(kept)


def _put(trade: Catalog) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(load, "load_catalog", lambda *_, **__: trade)
        load._catalog_with.cache_clear()
        load.catalog()


def with_setting(trade: Catalog, code: str, value: int) -> Catalog:
    return replace(trade, settings={**trade.settings, code: Decimal(value)})


def without_kind(trade: Catalog, code: str) -> Catalog:
    return replace(trade, kinds={name: kind for name, kind in trade.kinds.items() if name != code})


def without_part(trade: Catalog, code: str, *, part: str) -> Catalog:
    kind = trade.kinds[code]
    fewer = replace(kind, parts=tuple(one for one in kind.parts if one.code != part))
    return replace(trade, kinds={**trade.kinds, code: fewer})
