from django.db import migrations, models
from django.db.models import deletion


class Migration(migrations.Migration):

    dependencies = [
        ('loans', '0007_fill_school_of_loans'),
    ]

    operations = [
        migrations.AlterField(
            model_name='loan',
            name='school',
            field=models.ForeignKey(on_delete=deletion.PROTECT, related_name='loans', to='inventory.school'),
        ),
        migrations.AddIndex(
            model_name='loan',
            index=models.Index(
                condition=models.Q(('returned_at', None)),
                fields=['school', 'due_on', 'instrument', 'student'],
                name='loan_open_at_school',
            ),
        ),
    ]
