from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("core", "0008_log_by_act_person_and_day")]

    operations = [
        migrations.AddIndex("event", models.Index(fields=["at", "number"], name="event_moment")),
        migrations.RemoveIndex("event", "event_at"),
    ]
