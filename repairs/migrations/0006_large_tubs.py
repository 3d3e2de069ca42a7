"""Baths of large instruments now ask for a large tub; nobody had said which tub a bench has, so it keeps doing them."""

from __future__ import annotations

from typing import Any

from django.db import migrations


def give_large_tubs(apps: Any, _editor: object) -> None:
    for bench in apps.get_model("repairs", "Bench").objects.all():
        if "tub" in bench.tools and "large_tub" not in bench.tools:
            bench.tools = sorted([*bench.tools, "large_tub"])
            bench.save(update_fields=["tools"])


class Migration(migrations.Migration):
    dependencies = [("repairs", "0005_estimated_minutes")]

    operations = [migrations.RunPython(give_large_tubs, migrations.RunPython.noop)]
