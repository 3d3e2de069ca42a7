from django.db import migrations

from inventory.guard import SCHOOL_GUARD


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0022_opening_events'),
    ]

    operations = [
        migrations.RunPython(SCHOOL_GUARD.put_up, SCHOOL_GUARD.take_down),
    ]
