"""What the pages about ensembles, classes and need show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext_lazy as _

from core.sheets import OutValue
from inventory.catalog.load import catalog
from inventory.rules.playing import level_name
from loans.models import ClassPeriod, Ensemble
from loans.selectors.seats import Need, level_words


def places_page(ensembles: Sequence[Ensemble], periods: Sequence[ClassPeriod]) -> dict[str, Any]:
    """Each ensemble with its classes; classes of no ensemble by themselves; what no longer meets last."""
    lines = [
        {
            "row": ensemble,
            "level": level_name(ensemble.level),
            "periods": [period for period in periods if period.ensemble_id == ensemble.pk and period.is_active],
        }
        for ensemble in ensembles
        if ensemble.is_active
    ]
    running = {ensemble.pk for ensemble in ensembles if ensemble.is_active}
    return {
        "ensembles": lines,
        "others": [one for one in periods if one.is_active and one.ensemble_id not in running],
        "past": [*(one for one in ensembles if not one.is_active), *(one for one in periods if not one.is_active)],
        "is_empty": not ensembles and not periods,
    }


NEED_HEADER = (
    _("Kind"), _("Size"), _("By level"), _("Needed"), _("Have one"), _("May go out"), _("Stay in"), _("On the bench"),
    _("Short"),
)  # fmt: skip


def need_rows(page: Mapping[str, Any]) -> Iterator[tuple[OutValue, ...]]:
    """The lines of the page as those of a file."""
    for line in page["lines"]:
        need = line["need"]
        yield (
            str(line["kind"]), need.size, line["levels"], need.needed, need.playing, need.free, need.kept, need.bench,
            need.short,
        )  # fmt: skip


def need_page(needs: Iterable[Need]) -> dict[str, Any]:
    """The need of each kind, what is short first said in sums."""
    known = list(needs)
    lines = [
        {
            "need": need,
            "kind": catalog().kind(need.kind).name,
            "levels": ", ".join(
                f"{level_name(level)} {count}".strip() for level, count in level_words(need.levels.items())
            ),
        }
        for need in known
    ]
    return {
        "lines": lines,
        "needed": sum(need.needed for need in known),
        "playing": sum(need.playing for need in known),
        "short": sum(need.short for need in known),
        "after_bench": sum(need.short_after_bench for need in known),
    }
