import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0023_lent_stays_at_its_school'),
        ('loans', '0011_signed_elsewhere'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Guardian',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('place', models.PositiveSmallIntegerField(default=1)),
                ('name', models.CharField(blank=True, max_length=120)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('contact', models.CharField(blank=True, max_length=200)),
                ('language', models.CharField(choices=[('en', 'English'), ('es', 'Spanish')], default='en', max_length=2)),
                ('sourced_id', models.CharField(blank=True, max_length=255)),
            ],
            options={
                'ordering': ['student', 'place'],
            },
        ),
        migrations.AlterModelOptions(
            name='student',
            options={'ordering': ['sort_name', 'pk']},
        ),
        migrations.RemoveConstraint(
            model_name='loan',
            name='loan_one_open',
        ),
        migrations.RemoveIndex(
            model_name='loan',
            name='loan_open_due',
        ),
        migrations.RemoveIndex(
            model_name='loan',
            name='loan_open_between',
        ),
        migrations.RemoveIndex(
            model_name='loan',
            name='loan_open_at_school',
        ),
        migrations.RemoveIndex(
            model_name='student',
            name='student_name',
        ),
        migrations.AddField(
            model_name='loan',
            name='undone_at',
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AddField(
            model_name='loan',
            name='undone_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='student',
            name='is_private',
            field=models.BooleanField(default=False),
        ),
        migrations.AddField(
            model_name='student',
            name='number',
            field=models.CharField(blank=True, max_length=40),
        ),
        migrations.AddField(
            model_name='student',
            name='sort_name',
            field=models.CharField(blank=True, max_length=122),
        ),
        migrations.AddField(
            model_name='student',
            name='sourced_id',
            field=models.CharField(blank=True, max_length=255),
        ),
        migrations.AddField(
            model_name='student',
            name='who',
            field=models.CharField(choices=[('student', 'a student'), ('staff', 'a member of staff'), ('group', 'a group or another school')], default='student', max_length=8),
        ),
        migrations.AlterField(
            model_name='student',
            name='grade',
            field=models.CharField(blank=True, max_length=10),
        ),
        # Of indexes that serve as well as each other, SQLite takes the newest: the one of both comes last.
        migrations.AddConstraint(
            model_name='loan',
            constraint=models.UniqueConstraint(condition=models.Q(('returned_at', None), ('undone_at', None)), fields=('instrument',), name='loan_one_open'),
        ),
        migrations.AddIndex(
            model_name='loan',
            index=models.Index(condition=models.Q(('returned_at', None), ('undone_at', None)), fields=['due_on'], name='loan_open_due'),
        ),
        migrations.AddIndex(
            model_name='loan',
            index=models.Index(condition=models.Q(('returned_at', None), ('undone_at', None)), fields=['school', 'due_on', 'instrument', 'student'], name='loan_open_at_school'),
        ),
        migrations.AddIndex(
            model_name='loan',
            index=models.Index(condition=models.Q(('returned_at', None), ('undone_at', None)), fields=['instrument', 'student'], name='loan_open_between'),
        ),
        migrations.AddIndex(
            model_name='student',
            index=models.Index(fields=['sort_name'], name='student_sorted'),
        ),
        migrations.AddConstraint(
            model_name='student',
            constraint=models.UniqueConstraint(condition=models.Q(('number', ''), _negated=True), fields=('school', 'number'), name='student_number_once', violation_error_message='Another student of this school has this number.'),
        ),
        migrations.AddConstraint(
            model_name='student',
            constraint=models.UniqueConstraint(condition=models.Q(('sourced_id', ''), _negated=True), fields=('school', 'sourced_id'), name='student_sourced_once', violation_error_message='Another student of this school has this identifier of the roster.'),
        ),
        migrations.AddConstraint(
            model_name='student',
            constraint=models.CheckConstraint(condition=models.Q(('who', 'student'), ('grade', ''), _connector='OR'), name='student_grade_of_students'),
        ),
        migrations.AddField(
            model_name='guardian',
            name='student',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='guardians', to='loans.student'),
        ),
        migrations.AddConstraint(
            model_name='guardian',
            constraint=models.UniqueConstraint(fields=('student', 'place'), name='guardian_place_once'),
        ),
        migrations.AddConstraint(
            model_name='guardian',
            constraint=models.CheckConstraint(condition=models.Q(('place__gte', 1)), name='guardian_place_from_one'),
        ),
    ]
