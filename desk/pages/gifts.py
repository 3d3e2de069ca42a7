"""What a donor is sent: the thank-you letter and the acceptance. Neither holds a value: the donor states one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import full_day
from inventory.models import Donation, Instrument
from inventory.selectors.setup import district_name
from repairs.rules.words import lower_first

THANKS, ACCEPTANCE = "thanks", "acceptance"
TITLES: Mapping[str, Promise] = {THANKS: _("Thank you"), ACCEPTANCE: _("Acceptance of a gift")}


@dataclass(frozen=True, slots=True)
class GiftLetter:
    title: str
    sender: tuple[str, ...]
    to: tuple[str, ...]
    day: str
    paragraphs: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]
    signatures: tuple[str, ...]  # who signs on which line


def gift_letter(which: str, *, instrument: Instrument, gift: Donation, day: date, signer: str) -> GiftLetter:
    """Return the letter of this sort."""
    school = instrument.school
    return GiftLetter(
        title=str(TITLES[which]),
        sender=tuple(filter(None, (district_name(), school.name, *school.address.splitlines(), school.phone))),
        to=tuple(filter(None, (gift.donor_name, *gift.donor_contact.splitlines()))),
        day=full_day(day),
        paragraphs=_thanks(instrument, gift) if which == THANKS else _acceptance(instrument, gift),
        facts=_facts(instrument, gift),
        signatures=(signer,) if which == THANKS else (gettext("For the district"), gettext("Donor")),
    )


def _thanks(instrument: Instrument, gift: Donation) -> tuple[str, ...]:
    values = {"kind": lower_first(instrument.kind.name), "school": instrument.school, "day": full_day(gift.received_on)}
    return (
        gettext("Thank you for the %(kind)s that you gave to %(school)s. We received it on %(day)s.") % values,
        gettext("It belongs to the district now, and is played by students of its band program."),
        gettext("You received no goods or services in return for it."),
        gettext("We do not put a value on a gift: that is up to you and your tax adviser."),
    )


def _acceptance(instrument: Instrument, gift: Donation) -> tuple[str, ...]:
    values = {"school": instrument.school, "day": full_day(gift.received_on)}
    return (
        gettext("The donor gives the instrument below to the district, for %(school)s, received on %(day)s.") % values,
        gettext(
            "The donor owns it, and gives it without conditions. The district may use, repair, lend or dispose of it."
        ),
        gettext("The district accepts it. It is not valued by the district, and nothing is given in return."),
    )


def _facts(instrument: Instrument, gift: Donation) -> tuple[tuple[str, str], ...]:
    lines = (
        (gettext("Instrument"), instrument.kind.name),
        (gettext("Maker and model"), " ".join(filter(None, (instrument.maker, instrument.model)))),
        (gettext("Serial"), instrument.serial or gettext("none")),
        (gettext("Number"), instrument.asset_number),
        (gettext("Received on"), full_day(gift.received_on)),
    )
    return tuple(line for line in lines if line[1])
