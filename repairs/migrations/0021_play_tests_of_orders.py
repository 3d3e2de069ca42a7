from django.db import migrations


def tie(apps, schema_editor):
    """Tie the first play test after an order came back, and before the instrument went out again, to the order."""
    orders = apps.get_model("repairs", "ShopOrder").objects
    tests = apps.get_model("inventory", "PlayTest").objects
    for order in orders.filter(returned_at__isnull=False, play_test=None).order_by("pk").iterator():
        since = tests.filter(instrument=order.instrument_id, played_at__gte=order.returned_at)
        later = orders.filter(instrument=order.instrument_id, sent_at__gte=order.returned_at).exclude(pk=order.pk)
        next_one = later.order_by("sent_at").first()
        if next_one is not None:
            since = since.filter(played_at__lt=next_one.sent_at)
        test = since.order_by("played_at", "pk").first()
        if test is not None and not orders.filter(play_test=test).exists():
            orders.filter(pk=order.pk).update(play_test=test)


class Migration(migrations.Migration):

    dependencies = [
        ("repairs", "0020_carry_out_decisions"),
    ]

    operations = [
        migrations.RunPython(tie, migrations.RunPython.noop),
    ]
