from django.db import migrations, models


def carry_out(apps, schema_editor):
    """Retire what is in storage and was decided to be retired; nobody has to read what was approved long ago."""
    decisions = apps.get_model("repairs", "WorthDecision").objects.order_by("pk")
    held = decisions.filter(models.Q(is_approval_needed=False) | models.Q(is_approved=True))
    answers = dict(held.values_list("instrument", "answer"))  # the latest of each
    retired = [pk for pk, answer in answers.items() if answer == "retire"]
    rows = apps.get_model("inventory", "Instrument").objects.filter(whereabouts="in_store")
    for start in range(0, len(retired), 500):
        rows.filter(pk__in=retired[start : start + 500]).update(is_retired=True)
    held.filter(is_approved=True).update(answer_read_at=models.F("settled_at"))


class Migration(migrations.Migration):

    dependencies = [
        ("inventory", "0017_retired_instruments"),
        ("repairs", "0019_decisions_carried_out"),
    ]

    operations = [
        migrations.RunPython(carry_out, migrations.RunPython.noop),
    ]
