"""What the worth page says beside the answer itself."""

from __future__ import annotations

from django.urls import reverse
from django.utils.translation import gettext

from core.money import dollars
from inventory.catalog.load import catalog
from inventory.catalog.schema import Setting
from inventory.models import Whereabouts
from repairs.models import Job, ShopOrder, WorthDecision
from repairs.rules.worth import Answer
from repairs.selectors.decisions import is_begun
from repairs.selectors.worth import SoundParts, Spent

SETTINGS = (
    "repair_limit_needed_now", "near_limit_share", "cumulative_repair_limit", "same_part_repairs", "same_part_months",
    "approval_amount", "interest_rate", "price_growth", "residual_share", "playing_value_share", "repaired_years_least",
    "parts_value_share", "shop_rate_per_hour",
)  # fmt: skip


def way_on(decision: WorthDecision, job: Job | None, order: ShopOrder | None) -> dict[str, str] | None:
    """Return where a decision that holds is carried out; None where it is done, or nothing can be done now."""
    instrument = decision.instrument
    where = {"title": gettext("Decided: %(answer)s") % {"answer": str(decision.get_answer_display()).lower()}}
    if decision.answer == Answer.REPAIR_HERE and job is not None:
        return where | {"url": reverse("repairs:job", args=[job.pk]), "action": gettext("Continue the job")}
    is_here = instrument.whereabouts == Whereabouts.IN_STORE
    if decision.answer == Answer.REPAIR_HERE and is_here and not is_begun(decision):
        url = reverse("repairs:open-job", args=[instrument.asset_number])
        return where | {"url": url, "action": gettext("Start the job")}
    if decision.answer == Answer.SEND_OUT and order is not None:
        return where | {"url": reverse("repairs:order", args=[order.pk]), "action": gettext("See the order")}
    is_here = is_here or instrument.whereabouts == Whereabouts.ON_BENCH
    if decision.answer == Answer.SEND_OUT and is_here and not is_begun(decision):
        url = reverse("repairs:ask-shop", args=[instrument.asset_number])
        return where | {"url": url, "action": gettext("Write the order")}
    return None


def settings_used() -> list[Setting]:
    return [catalog().setting_notes[code] for code in SETTINGS]


def spent_words(spent: Spent) -> str:
    """Say "20 bench minutes (8 of them estimated) $10, parts $3.50, shops $80"."""
    if not spent.amount:
        return gettext("nothing in the last twelve months")
    return gettext("%(minutes)s %(bench)s, parts %(parts)s, shops %(shops)s") % {
        "minutes": minutes_words(spent),
        "bench": dollars(spent.bench_amount),
        "parts": dollars(spent.parts_amount),
        "shops": dollars(spent.shop_amount),
    }


def minutes_words(spent: Spent) -> str:
    """Say "20 bench minutes", and how many of them nobody timed."""
    words = gettext("%(minutes).0f bench minutes") % {"minutes": spent.minutes}
    if not spent.estimated_minutes:
        return words
    return gettext("%(minutes)s (%(estimated).0f of them estimated)") % {
        "minutes": words, "estimated": spent.estimated_minutes,
    }  # fmt: skip


def parts_words(parts: SoundParts) -> str:
    return gettext("%(sound)d of %(total)d parts are sound") % {"sound": parts.sound, "total": parts.total}
