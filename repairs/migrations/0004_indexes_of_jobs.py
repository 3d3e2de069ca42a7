"""Open jobs in the order they are due, closed ones and attempts from the latest on."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("repairs", "0003_care_next")]

    operations = [
        migrations.AddIndex(
            model_name="attempt", index=models.Index(fields=["-ended_at"], name="attempt_latest")
        ),
        migrations.AddIndex(
            model_name="job", index=models.Index(fields=["-closed_at", "-id"], name="job_closed")
        ),
        migrations.AddIndex(
            model_name="job",
            index=models.Index(
                condition=models.Q(("closed_at", None)), fields=["due_on", "opened_at", "id"], name="job_open"
            ),
        ),
    ]
