from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('loans', '0016_assigning'),
    ]

    operations = [
        migrations.AddField(
            model_name='agreement',
            name='guardian_signature_sha256',
            field=models.CharField(blank=True, max_length=64),
        ),
        migrations.AddField(
            model_name='agreement',
            name='student_signature_sha256',
            field=models.CharField(blank=True, max_length=64),
        ),
    ]
