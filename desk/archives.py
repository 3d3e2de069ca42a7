"""The archive of a year: its files as they are written, signed, and noted in the log with its hash."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.translation import gettext as _

from core.archives import Part, public_text, read_key, write_archive
from core.exceptions import ArchiveError
from core.models import User
from core.progress import counted
from core.sheets import stream_csv
from desk.pages.value import SCHEDULE_HEADER, schedule_rows
from desk.selectors.archives import (
    LOAN_HEADER,
    PAPER_HEADER,
    Stretch,
    event_lines,
    loan_rows,
    paper_rows,
    stretch_of,
    written_until,
)
from desk.selectors.value import trade_of, valued
from desk.services.archives import note_archive
from inventory.models import District, Instrument, School
from inventory.selectors.past import AsOf


def archive_year(
    *, first: date, last: date, actor: User | None, at: datetime, path: Path | None = None, task: str = ""
) -> dict[str, Any]:
    """Make the archive of a year that is over, and return what the log says of it, its hash among that.

    ``path`` is a file that is not there yet; None: one of its own in the folder of archives. Raises ArchiveError.
    """
    if last >= timezone.localdate(at):
        raise ArchiveError(_("That year is not over yet."))
    district = District.objects.first()
    if district is None:
        raise ArchiveError(_("The district has no name yet."))
    key = read_key(settings.ARCHIVE_KEY_FILE)
    name = ""  # of a file that the page of archives offers
    if path is None:
        settings.ARCHIVES_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        made = f"{timezone.localtime(at):%Y%m%d-%H%M%S}"
        name = f"hornbook-{first}-to-{last}-made-{made}.zip"
        path = settings.ARCHIVES_DIR / name
    if path.exists():
        raise ArchiveError(_("%(path)s is there already.") % {"path": path})
    stretch, year = stretch_of(first, last), {"first_day": first.isoformat(), "last_day": last.isoformat()}
    chain: dict[str, Any] = {"first": stretch.first, "count": stretch.count}
    chain |= {"previous_hash": stretch.previous_hash, "hash": stretch.hash}
    about = {"district": district.name, "version": settings.VERSION, **year, "chain": chain}
    readme = render_to_string(
        "desk/archive_readme.txt",
        {"district": district, "first": first, "last": last, "at": at, "stretch": stretch,
         "public_key": public_text(key.public_key())},
    )  # fmt: skip
    parts = [Part("README.txt", [readme.encode()]), *parts_of(first, last, stretch)]
    manifest, digest = write_archive(path, parts, about=about, key=key, at=at)
    details: dict[str, Any] = {
        **year,
        "events": stretch.count,
        "head": stretch.hash,
        "sha256": digest,
        "file": name,
        "task": task,
    }
    details["public_key"] = manifest["public_key"]
    note_archive(district=district, details=details, actor=actor, at=at)
    return details


def parts_of(first: date, last: date, stretch: Stretch) -> Iterator[Part]:
    """The files of an archive; each is read from the database while it is written."""
    yield Part("events.jsonl", event_lines(stretch))
    as_known = AsOf(last, known_on=last)
    trade = trade_of(as_known)
    names = dict(School.objects.values_list("pk", "name"))
    some = counted(valued(as_known, trade=trade), total=Instrument.objects.count(), phase=_("Instruments"))
    rows = schedule_rows(some, names=names, trade=trade, texts=written_until(stretch.last))
    yield Part("register.csv", stream_csv(header=[str(one) for one in SCHEDULE_HEADER], rows=rows))
    loans = counted(loan_rows(first, last), total=0, phase=_("Loans"))
    yield Part("loans.csv", stream_csv(header=LOAN_HEADER, rows=loans))
    papers = counted(paper_rows(first, last), total=0, phase=_("Papers"))
    yield Part("papers.csv", stream_csv(header=PAPER_HEADER, rows=papers))
