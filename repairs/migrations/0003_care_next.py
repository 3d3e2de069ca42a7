"""When care comes round is kept; filled in for the instruments there are."""

from collections import defaultdict
from typing import Any

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Max
from django.utils import timezone

AT_ONCE = 2000


def fill(apps: Any, _editor: Any) -> None:
    """Work the days out as the services do from now on, in chunks."""
    from inventory.catalog.load import catalog
    from repairs.rules.care import CareFacts, care_dates

    get = apps.get_model
    instruments, row = get("inventory", "Instrument").objects, get("repairs", "CareNext")
    by_method = defaultdict(list)
    for interval in catalog().intervals.values():
        if interval.method:
            by_method[interval.method].append(interval.code)
    keys = list(instruments.order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(keys), AT_ONCE):
        some = instruments.filter(pk__gte=keys[start], pk__lte=keys[start : start + AT_ONCE][-1])
        done: dict[int, dict[str, Any]] = defaultdict(dict)
        noted = get("repairs", "CareDone").objects.filter(instrument__in=some, withdrawn_at=None).order_by()
        for pk, code, day in noted.values_list("instrument_id", "code").annotate(last=Max("done_on")):
            done[pk][code] = day
        tried = get("repairs", "Attempt").objects.filter(
            job__instrument__in=some, method__in=list(by_method), outcome__in=["done", "freed"]
        )
        worked = tried.order_by().values_list("job__instrument_id", "method").annotate(last=Max("ended_at"))
        for pk, method, moment in worked:
            day = timezone.localdate(moment)
            for code in by_method[method]:
                done[pk][code] = max(day, done[pk].get(code, day))
        rows = []
        for pk, kind, options, at in some.values_list("pk", "kind_code", "options", "registered_at"):
            if kind in catalog().kinds:
                facts = CareFacts(
                    key=str(pk), kind=catalog().kinds[kind], registered_on=timezone.localdate(at), options=options,
                    done=done[pk],
                )  # fmt: skip
                rows += [
                    row(instrument_id=pk, code=one.code, last_on=one.last_on, much_on=one.much_on, idle_on=one.idle_on)
                    for one in care_dates(facts, catalog=catalog())
                ]
        row.objects.bulk_create(rows, batch_size=AT_ONCE)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0006_when_an_instrument_left"),
        ("repairs", "0002_drop_left_findings"),
    ]

    operations = [
        migrations.CreateModel(
            name="CareNext",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("code", models.CharField(max_length=40)),
                ("last_on", models.DateField(blank=True, null=True)),
                ("much_on", models.DateField(blank=True, null=True)),
                ("idle_on", models.DateField(blank=True, null=True)),
                (
                    "instrument",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="care_next", to="inventory.instrument"
                    ),
                ),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=("instrument", "code"), name="care_next_once")],
            },
        ),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
