"""Taps become posted forms, the one record of what was posted: a phone may still send again what it sent before."""

from django.db import migrations


def copy_taps(apps, schema_editor):
    tap, posted = apps.get_model("inventory", "Tap"), apps.get_model("core", "PostedForm")
    rows = tap.objects.values_list("inspection_id", "key", "taken_at").iterator()
    posted.objects.bulk_create(
        (
            posted(key=str(key), service="take_tap", about=f"inspection=inventory.inspection:{walk}", posted_at=at)
            for walk, key, at in rows
        ),
        ignore_conflicts=True,
        batch_size=1000,
    )


def copy_back(apps, schema_editor):
    tap, posted = apps.get_model("inventory", "Tap"), apps.get_model("core", "PostedForm")
    rows = posted.objects.filter(service="take_tap").values_list("about", "key", "posted_at").iterator()
    tap.objects.bulk_create(
        (tap(inspection_id=int(about.rpartition(":")[2]), key=key, taken_at=at) for about, key, at in rows),
        ignore_conflicts=True,
        batch_size=1000,
    )


class Migration(migrations.Migration):

    dependencies = [
        ("core", "0002_posted_forms"),
        ("inventory", "0003_call_the_cost_of_a_row_as_its_column_is_called"),
    ]

    operations = [
        migrations.RunPython(copy_taps, copy_back),
        migrations.DeleteModel(name="Tap"),
    ]
