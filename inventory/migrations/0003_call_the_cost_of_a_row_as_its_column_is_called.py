"""Rows of lists that are still open say what they cost under the key that choices of columns use."""

from django.db import migrations


def rename(apps, old, new):
    rows = apps.get_model("inventory", "ImportRow").objects.filter(**{"values__has_key": old})
    changed = []
    for row in rows.iterator():
        row.values[new] = row.values.pop(old)
        changed.append(row)
    rows.model.objects.bulk_update(changed, ["values"], batch_size=500)


def forwards(apps, schema_editor):
    rename(apps, "cost_amount", "cost")


def backwards(apps, schema_editor):
    rename(apps, "cost", "cost_amount")


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0002_refuse_amounts_below_zero_in_forms"),
    ]

    operations = [migrations.RunPython(forwards, backwards)]
