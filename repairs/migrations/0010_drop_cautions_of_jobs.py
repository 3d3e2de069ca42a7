from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ("repairs", "0009_cautions_read_as_a_whole"),
    ]

    operations = [
        migrations.RemoveField(model_name="job", name="cautions_at"),
        migrations.RemoveField(model_name="job", name="cautions_by"),
    ]
