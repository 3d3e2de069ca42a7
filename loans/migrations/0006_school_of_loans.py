from django.db import migrations, models
from django.db.models import deletion


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0018_parts_taken_are_no_inspection'),
        ('loans', '0005_students_by_name'),
    ]

    operations = [
        migrations.AddField(
            model_name='loan',
            name='school',
            field=models.ForeignKey(null=True, on_delete=deletion.PROTECT, related_name='loans', to='inventory.school'),
        ),
        migrations.AddField(
            model_name='agreement',
            name='facts',
            field=models.JSONField(blank=True, default=dict),
        ),
        migrations.AddField(
            model_name='agreement',
            name='names',
            field=models.JSONField(blank=True, default=dict),
        ),
    ]
