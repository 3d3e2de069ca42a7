from django.conf import settings
from django.db import migrations, models

RENAMED = {
    "does": "function",
    "about": "arguments",
    "mark": "dedupe_key",
    "begun_at": "queued_at",
    "heard_at": "reported_at",
    "said_at": "seen_at",
    "tries": "attempts",
    "words": "message",
    "opens": "result_url",
}


class Migration(migrations.Migration):
    dependencies = [
        ("core", "0011_long_work"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint("longwork", "long_work_once"),
        migrations.RemoveIndex("longwork", "long_work_person"),
        *(migrations.RenameField("longwork", old, new) for old, new in RENAMED.items()),
        migrations.AddIndex("longwork", models.Index(fields=["person", "-queued_at"], name="long_work_person")),
        migrations.AddConstraint(
            "longwork",
            models.UniqueConstraint(
                fields=("dedupe_key",), condition=models.Q(("finished_at", None)), name="long_work_once"
            ),
        ),
    ]
