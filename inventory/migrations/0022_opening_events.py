"""One event for each instrument and gift that says what the row is, so that later changes have something to follow."""

import hashlib
import json
import secrets
from datetime import UTC
from decimal import Decimal

from django.db import connection, migrations
from django.utils import timezone

from core.bulk import columns_of, insert_rows

AT_ONCE = 1000
# Column -> what events call it; and columns of typed text, which stand in revisions.
INSTRUMENT = {
    "asset_number": "asset_number", "kind_code": "kind", "level": "level", "year_made": "year_made",
    "options": "options", "school_id": "school", "room_id": "room", "acquired_by": "acquired_by",
    "acquired_on": "acquired_on", "acquisition_cost_amount": "acquisition_cost_amount",
    "replacement_amount": "replacement_amount", "federal_percent": "federal_percent",
}
INSTRUMENT_TEXTS = ("serial", "maker", "model", "funding_source", "award_number", "title_holder", "notes")
GIFT = {"received_on": "received_on", "thanked_on": "thanked_on", "tax_form_signed_on": "tax_form_signed_on"}
GIFT_TEXTS = ("donor_name", "donor_contact", "history")


def as_json(value):
    """As the log holds values: amounts with two places and days as text."""
    if isinstance(value, Decimal):
        return f"{value:.2f}"
    return value.isoformat() if hasattr(value, "isoformat") else value


def digest(words):
    return hashlib.sha256(words.encode()).hexdigest()


def rows_of(model, *related):
    """All rows in the order of their keys, some at a time: neither memory nor a cursor grows with the district."""
    last = 0
    while some := list(model.objects.select_related(*related).filter(pk__gt=last).order_by("pk")[:AT_ONCE]):
        last = some[-1].pk
        yield some


def open_rows(apps, schema_editor):
    Event, EventHead = apps.get_model("core", "Event"), apps.get_model("core", "EventHead")
    Revision = apps.get_model("core", "Revision")
    fields = {field.attname: field for field in columns_of(Event)}
    text_columns = [field.attname for field in columns_of(Revision)]
    at = timezone.now()
    stamp = at.astimezone(UTC).isoformat(timespec="microseconds")
    moment = fields["at"].get_db_prep_save(at, connection)
    head = EventHead.objects.filter(pk=1).first() or EventHead(pk=1)

    def prepared(label, row, instrument, values, texts):
        """Return the table row of one event and those of its texts; the head moves on."""
        thread, tenant = f"instrument:{instrument.pk}", instrument.school_id
        after = {
            name: as_json(value) for column, name in values.items() if (value := getattr(row, column)) not in (None, "", {})
        }
        number, typed = head.last_number + 1, []
        for column in texts:
            if text := getattr(row, column):
                salt = secrets.token_hex(16)
                after.setdefault("typed", {})[column] = digest(f"{salt}\n{text}")
                about = {"number": number, "subject_type": label, "subject_id": str(row.pk)}
                about |= {"thread": instrument.pk, "tenant": tenant, "column": column}
                about |= {"before": "", "after": text, "salt": salt}
                typed.append([about[name] for name in text_columns])
        content = {
            "number": number, "at": stamp, "actor": None, "act": "opening", "subject": f"{label}:{row.pk}",
            "thread": thread, "tenant": tenant, "before": {}, "after": after, "request": "",
        }
        body = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
        event = dict.fromkeys(fields) | {
            "number": number, "at": moment, "act": "opening", "subject_type": label, "subject_id": str(row.pk),
            "thread": thread, "tenant": tenant, "request_id": "", "previous_hash": head.last_hash,
            "before": fields["before"].get_db_prep_save({}, connection),
            "after": fields["after"].get_db_prep_save(after, connection),
            "hash": digest(f"{head.last_hash}\n{body}"),
        }
        head.last_number, head.last_hash = number, event["hash"]
        return list(event.values()), typed

    kept = (
        ("inventory.instrument", apps.get_model("inventory", "Instrument"), (), INSTRUMENT, INSTRUMENT_TEXTS),
        ("inventory.donation", apps.get_model("inventory", "Donation"), ("instrument",), GIFT, GIFT_TEXTS),
    )
    for label, model, related, values, texts in kept:
        for some in rows_of(model, *related):
            made = [prepared(label, row, getattr(row, "instrument", row), values, texts) for row in some]
            insert_rows(Event, [event for event, _ in made])
            insert_rows(Revision, [text for _, typed in made for text in typed])
    if head.last_number:
        head.save()


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0005_revisions"),
        ("inventory", "0021_figures_and_first_day"),
    ]

    operations = [migrations.RunPython(open_rows, migrations.RunPython.noop)]
