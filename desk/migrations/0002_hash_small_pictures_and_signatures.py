"""The hash of each small picture and signature that is there, in its row and in an event.

One that is missing or cannot be read gets none, and `verify` says so.
"""

import hashlib

from django.core.exceptions import SuspiciousOperation
from django.core.files.storage import default_storage
from django.db import migrations
from django.db.models import Q
from django.utils import timezone

from core.openings import Opening, open_rows

AT_ONCE = 500
COLUMNS = {
    ('inventory', 'Photo'): ('small',),
    ('loans', 'Agreement'): ('student_signature', 'guardian_signature'),
}


def digest_of(name):
    try:
        with default_storage.open(name, 'rb') as stored:
            return hashlib.sha256(stored.read()).hexdigest()
    except (OSError, SuspiciousOperation):
        return ''


def fill(model, column):
    """Fill in the hashes of a column's files, some rows at a time, and yield the keys of those rows."""
    kept = f'{column}_sha256'
    rows = model.objects.filter(**{kept: ''}).exclude(**{column: ''}).order_by('pk')
    last = 0
    while some := list(rows.filter(pk__gt=last)[:AT_ONCE]):
        last = some[-1].pk
        for row in some:
            setattr(row, kept, digest_of(getattr(row, column).name))
        filled = [row for row in some if getattr(row, kept)]
        model.objects.bulk_update(filled, [kept])
        yield [row.pk for row in filled]


def fill_all(apps, schema_editor):
    openings = [
        Opening(model, columns=(f'{column}_sha256',), needs=Q(pk__in=keys), is_further=True)
        for model, columns in ((apps.get_model(*one), columns) for one, columns in COLUMNS.items())
        for column in columns
        for keys in fill(model, column)
        if keys
    ]
    if openings:
        event, head = apps.get_model('core', 'Event'), apps.get_model('core', 'EventHead')
        open_rows(openings, at=timezone.now(), event=event, head=head)


class Migration(migrations.Migration):

    dependencies = [
        ('core', '0004_guard_the_event_log'),
        ('desk', '0001_opening_events'),
        ('inventory', '0027_small_pictures_by_hash'),
        ('loans', '0017_signatures_by_hash'),
    ]

    operations = [
        migrations.RunPython(fill_all, migrations.RunPython.noop),
    ]
