"""What the worth page says beside the answer itself."""

from __future__ import annotations

from django.utils.translation import gettext

from core.money import dollars
from inventory.catalog.load import catalog
from inventory.catalog.schema import Setting
from repairs.selectors.worth import SoundParts, Spent

SETTINGS = (
    "repair_limit_needed_now", "cumulative_repair_limit", "same_part_repairs", "same_part_months", "approval_amount",
    "interest_rate", "price_growth", "residual_share", "playing_value_share", "repaired_years_least",
    "parts_value_share", "shop_rate_per_hour",
)  # fmt: skip


def settings_used() -> list[Setting]:
    return [catalog().setting_notes[code] for code in SETTINGS]


def spent_words(spent: Spent) -> str:
    """Say "20 bench minutes $10, parts $3.50, shops $80"."""
    if not spent.amount:
        return gettext("nothing in the last twelve months")
    return gettext("%(minutes).0f bench minutes %(bench)s, parts %(parts)s, shops %(shops)s") % {
        "minutes": spent.minutes,
        "bench": dollars(spent.bench_amount),
        "parts": dollars(spent.parts_amount),
        "shops": dollars(spent.shop_amount),
    }


def parts_words(parts: SoundParts) -> str:
    return gettext("%(sound)d of %(total)d parts are sound") % {"sound": parts.sound, "total": parts.total}
