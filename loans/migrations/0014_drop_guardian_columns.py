from django.db import migrations


class Migration(migrations.Migration):

    dependencies = [
        ('loans', '0013_move_guardians'),
    ]

    operations = [
        migrations.RemoveField(model_name='student', name='guardian_contact'),
        migrations.RemoveField(model_name='student', name='guardian_name'),
    ]
