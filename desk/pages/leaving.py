"""How an instrument leaves the fleet, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from core.models import Event, User
from core.money import dollars
from core.sheets import OutValue
from desk.selectors.leaving import FIRST, holds_on
from inventory.catalog.load import catalog
from inventory.models import Disposal, DisposalQuerySet, Instrument, Transfer
from inventory.rules.leaving import WRITTEN_OFF

WAYS = dict(Disposal.Ways.choices)
LABELS: Mapping[str, Promise] = {  # of its columns in the log
    "way": _("How"),
    "on": _("Date"),
    "proceeds_amount": _("Proceeds"),
    "value_amount": _("Value as it was"),
    "market_amount": _("Fair market value"),
    "federal_percent": _("Federal percent"),
    "threshold_amount": _("Federal threshold"),
    "share_amount": _("Owed to the awarding agency"),
    "approved_by": _("Approved by"),
    "is_confirmed": _("By password"),
    "agency_notified_on": _("Awarding agency notified"),
}


def _left_fleet(event: Event) -> str:
    return gettext("Out of the fleet: %(way)s") % {"way": WAYS.get(event.after.get("way", ""), "")}


# What the history says of these acts (desk/pages/history.py).
SENTENCES: Mapping[str, Promise | Callable[[Event], str]] = {
    "retired": _("Retired"),
    "no_longer_retired": _("No longer retired"),
    "left_fleet": _left_fleet,
    "disposal_corrected": _("Record of how it left corrected"),
    "back_in_fleet": _("Back in the fleet"),
    "registered_in_error": _("Entered in error: out of every count, and its number is not used again"),
    "error_withdrawn": _("Not entered in error after all"),
    "transfer_offered": _("Offered to another school"),
    "transfer_agreed": _("The other school agreed to take it"),
    "transfer_declined": _("Offer to another school ended"),
    "paper_kept": _("Paper kept"),
    "paper_withdrawn": _("Paper withdrawn"),
}

# By the code of a hold: where it is settled, the words of the link, and who may open it.
LEADS: Mapping[str, tuple[str, Promise, str]] = {
    "loan": ("desk:take-back", _("Take it back"), "desk.take_back"),
    "lost": ("desk:loss", _("See the case"), "loans.view_loss"),
    "job": ("repairs:job", _("Open the job"), "repairs.view_job"),
    "order": ("repairs:order", _("See the order"), "repairs.view_shop"),
    "shared": ("loans:sharing", _("Sharing"), "loans.change_seat"),
    "decision": ("repairs:worth", _("See the decision"), "repairs.view_worth"),
}
BY_ROW = frozenset({"lost", "job", "order"})  # their addresses are of rows, the others' of the instrument


def hold_lines(instrument: Instrument, *, may: Callable[[str], bool]) -> list[dict[str, str]]:
    """What has to be settled first, each with where, for who may go there."""
    lines = []
    for hold in holds_on(instrument):
        name, action, needed = LEADS[hold.code]
        key = hold.key if hold.code in BY_ROW else instrument.asset_number
        url = reverse(name, args=[key]) if may(needed) else ""
        lines.append({"text": gettext(FIRST[hold.code]), "url": url, "action": str(action)})
    return lines


def disposal_facts(disposal: Disposal, *, may_see_money: bool, may_see_papers: bool) -> list[tuple[str, str]]:
    """Label and words of how it left; money for those who see values, what papers say for those who see them."""
    lines: list[tuple[str, Any]] = [
        (gettext("How"), disposal.get_way_display()),
        (gettext("Date"), full_day(disposal.on)),
        (gettext("Why"), disposal.because),
    ]
    if may_see_papers:
        lines.append((gettext("Who has it now"), disposal.recipient))
    if may_see_money:
        lines += [
            (gettext("Proceeds"), dollars(disposal.proceeds_amount, none="")),
            (gettext("Value as it was"), dollars(disposal.value_amount, none="")),
            (gettext("Fair market value"), dollars(disposal.market_amount, none="")),
            (gettext("Federal threshold"), "" if is_supply(disposal) else dollars(disposal.threshold_amount, none="")),
            (gettext("Owed to the awarding agency"), owed_words(disposal)),
        ]
    lines += [
        (gettext("Approved by"), approved_words(disposal)),
        (gettext("Recorded by"), who_and_when(disposal.actor, disposal.recorded_at)),
    ]
    if may_see_papers:
        lines += [
            (gettext("Police agency"), disposal.police_agency),
            (gettext("Report number"), disposal.police_number),
            (gettext("Insurer"), disposal.insurer),
            (gettext("Claim number"), disposal.claim_number),
            (gettext("What the investigation found"), disposal.findings),
        ]
    if disposal.agency_notified_on:
        lines.append((gettext("Awarding agency notified"), full_day(disposal.agency_notified_on)))
    if disposal.ended_at is not None and disposal.ended_by is not None:
        how = gettext("The entry was wrong: it never left") if disposal.was_wrong else gettext("It is back")
        day = f", {full_day(disposal.back_on)}" if disposal.back_on else ""
        lines += [
            (gettext("Ended"), f"{how}{day}"),
            (gettext("Because"), disposal.ended_because),
            (gettext("Ended by"), who_and_when(disposal.ended_by, disposal.ended_at)),
        ]
    return [(label, str(words)) for label, words in lines if words]


def is_supply(disposal: Disposal) -> bool:
    """Whether a federal award paid for it, and by its cost it was a supply: of equipment a share is kept, also of $0."""
    return disposal.federal_percent is not None and disposal.share_amount is None and disposal.way not in WRITTEN_OFF


def owed_words(disposal: Disposal) -> str:
    return gettext("$0: a supply by its cost") if is_supply(disposal) else dollars(disposal.share_amount, none="")


def who_and_when(who: User, at: datetime) -> str:
    return f"{who}, {full_day(timezone.localdate(at))}"


def approved_words(disposal: Disposal) -> str:
    if disposal.approved_by is None:
        return ""
    if disposal.is_confirmed:
        return gettext("%(name)s, by password") % {"name": disposal.approved_by}
    return str(disposal.approved_by)


OFFERS_HEADER = (
    _("Offer"), _("Asset number"), _("Kind"), _("From school"), _("To school"), _("Offered on"), _("Offered by"), _("Why"),
)  # fmt: skip


def offer_rows(coming: Iterable[Transfer], going: Iterable[Transfer]) -> Iterator[tuple[OutValue, ...]]:
    """Open offers to the user's schools, then those from them, as the lines of a file."""
    for words, offers in ((gettext("Offered to you"), coming), (gettext("Offered by you"), going)):
        for one in offers:
            horn = one.instrument
            yield (
                words, horn.asset_number, horn.kind.name, one.from_school.name, one.to_school.name,
                timezone.localdate(one.offered_at), str(one.actor), one.because,
            )  # fmt: skip


OUT_HEADER = (
    _("Asset number"), _("Kind"), _("Maker"), _("Model"), _("Serial"), _("School"), _("How"), _("Date"), _("Who has it now"),
    _("Cost"), _("Proceeds"), _("Value as it was"), _("Fair market value"), _("Federal percent"),
    _("Owed to the awarding agency"), _("Approved by"), _("By password"), _("Recorded on"), _("Recorded by"),
)  # fmt: skip
OUT_AT_ONCE = 500
OUT_ON_PAPER = (0, 1, 4, 5, 6, 7, 8, 9, 10, 11, 12, 14, 15)  # there is no room for more


def out_rows(rows: DisposalQuerySet) -> Iterator[tuple[OutValue, ...]]:
    """What left, as the lines of a file, latest first."""
    kinds, left = catalog(), rows.for_table()
    rest = left
    while some := list(rest[:OUT_AT_ONCE]):
        last = some[-1]  # who records one more meanwhile moves no line
        rest = left.after(last)
        for one in some:
            horn = one.instrument
            yield (
                horn.asset_number, kinds.kind(horn.kind_code).name, horn.maker, horn.model, horn.serial, horn.school.name,
                str(one.get_way_display()), one.on, one.recipient, horn.acquisition_cost_amount, one.proceeds_amount,
                one.value_amount, one.market_amount, one.federal_percent, Decimal(0) if is_supply(one) else one.share_amount,
                str(one.approved_by or ""), gettext("yes") if one.is_confirmed else gettext("no"),
                timezone.localdate(one.recorded_at), str(one.actor),
            )  # fmt: skip
