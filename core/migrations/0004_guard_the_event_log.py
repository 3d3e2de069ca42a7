from django.db import migrations

from core.log_guard import guard, unguard


class Migration(migrations.Migration):

    dependencies = [
        ('core', '0003_who_gets_in'),
    ]

    operations = [
        migrations.RunPython(guard, unguard),
    ]
