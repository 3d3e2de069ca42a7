from typing import Any

from django.db import migrations


def forget(apps: Any, schema_editor: Any) -> None:
    """Work queued by earlier versions names functions that are gone: without its row it can be asked for again."""
    apps.get_model("core", "LongWork").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("core", "0012_long_work_names")]

    operations = [migrations.RunPython(forget, migrations.RunPython.noop, elidable=True)]
