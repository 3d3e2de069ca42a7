from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0026_places_in_rooms_and_locks'),
    ]

    operations = [
        migrations.AddField(
            model_name='photo',
            name='small_sha256',
            field=models.CharField(blank=True, max_length=64),
        ),
    ]
