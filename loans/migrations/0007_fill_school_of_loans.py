from django.db import migrations
from django.db.models import OuterRef, Subquery

OF_INSTRUMENT = ('asset_number', 'kind_code', 'options', 'maker', 'model', 'serial')


def fill_schools(apps, schema_editor):
    """A loan's school is its student's: only students of the instrument's own school could borrow it, and none moves."""
    student = apps.get_model('loans', 'Student').objects.filter(pk=OuterRef('student'))
    apps.get_model('loans', 'Loan').objects.update(school=Subquery(student.values('school')[:1]))


def keep_what_was_agreed(apps, schema_editor):
    """A paper still to be made says what is known today, whatever is corrected before it is made."""
    agreements = apps.get_model('loans', 'Agreement').objects.filter(pdf_sha256='', loan__student__erased_at=None)
    for agreement in agreements.select_related('loan__instrument', 'loan__student', 'loan__actor').iterator(1000):
        loan, student = agreement.loan, agreement.loan.student
        agreement.facts = {name: getattr(loan.instrument, name) for name in OF_INSTRUMENT}
        agreement.names = {
            'student': student.name,
            'grade': student.grade,
            'guardian': student.guardian_name,
            'lent_by': loan.actor.name,
        }
        agreement.save(update_fields=['facts', 'names'])


class Migration(migrations.Migration):

    dependencies = [
        ('loans', '0006_school_of_loans'),
    ]

    operations = [
        migrations.RunPython(fill_schools, migrations.RunPython.noop),
        migrations.RunPython(keep_what_was_agreed, migrations.RunPython.noop),
    ]
