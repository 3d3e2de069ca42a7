from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("core", "0007_drop_old_tries")]

    operations = [
        migrations.AddIndex("event", models.Index(fields=["act", "-number"], name="event_act")),
        migrations.AddIndex("event", models.Index(fields=["actor", "-number"], name="event_actor")),
        migrations.AddIndex("event", models.Index(fields=["at"], name="event_at")),
    ]
