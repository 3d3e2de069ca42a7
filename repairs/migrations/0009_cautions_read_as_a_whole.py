"""What was acknowledged as a whole becomes a row of its own, for no hazard: nobody can say which were shown."""

from django.conf import settings
from django.db import migrations

WORDS = "Acknowledged for the whole job. Which cautions were shown was not kept."


def move(apps, schema_editor):
    jobs = apps.get_model("repairs", "Job").objects.exclude(cautions_at=None).exclude(cautions_by=None)
    read = apps.get_model("repairs", "CautionRead").objects
    read.bulk_create(
        (
            read.model(job_id=pk, hazard="", version="", text=WORDS, at=at, actor_id=by)
            for pk, at, by in jobs.values_list("pk", "cautions_at", "cautions_by").iterator()
        ),
        batch_size=500,
    )


def move_back(apps, schema_editor):
    jobs = apps.get_model("repairs", "Job").objects
    rows = apps.get_model("repairs", "CautionRead").objects.filter(hazard="")
    for row in rows.iterator():
        jobs.filter(pk=row.job_id).update(cautions_at=row.at, cautions_by=row.actor_id)
    rows.delete()


class Migration(migrations.Migration):

    dependencies = [
        ("repairs", "0008_clocks_of_steps"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RunPython(move, move_back),
    ]
