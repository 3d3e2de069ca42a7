"""From tags to paper: the address in each code, the sheet, and the record that it was printed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.utils.translation import gettext

from core.models import User
from inventory.exceptions import NoPublicAddressError
from inventory.models import Tag
from inventory.pdf.labels import Label, label_sheet
from inventory.rules.labels import SheetGeometry
from inventory.rules.picture.silhouettes import silhouette_file
from inventory.services.labels import note_printed


def public_address(*, in_demo: str = "") -> str:
    """The address printed into tags; a demo may use its own (``in_demo``), which is clearly marked."""
    if settings.PUBLIC_ADDRESS:
        return str(settings.PUBLIC_ADDRESS)
    if settings.DEMO and in_demo:
        return in_demo
    raise NoPublicAddressError(
        gettext(
            "The public address of this server is not set, so a tag would lead nowhere. Set HORNBOOK_PUBLIC_ADDRESS to "
            "the address at which phones reach it, such as https://horns.district.example, and restart the server."
        )
    )


def label_of(tag: Tag, *, address: str) -> Label:
    kind = tag.instrument.kind.name
    return Label(
        url=tag.address(home=address),
        asset_number=tag.instrument.asset_number,
        kind=f"{tag.accessory}, {kind}" if tag.accessory else kind,
        school=tag.instrument.school.name,
        silhouette="" if tag.accessory else silhouette_file(tag.instrument.kind.silhouette),
    )


def print_labels(
    *, tags: Sequence[Tag], address: str, sheet: SheetGeometry, actor: User | None, at: datetime, start: int = 1
) -> bytes:
    """Return the sheets as PDF and record the tags as printed.

    Raises LabelError or QrTextError with a sentence for the reader; then nothing is recorded.
    """
    labels = [label_of(tag, address=address) for tag in tags]
    pdf = label_sheet(labels=labels, sheet=sheet, start=start, demo=settings.DEMO)
    note_printed(tags=tags, sheet=sheet.code, actor=actor, at=at)
    return pdf
