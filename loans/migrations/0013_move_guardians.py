import re

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import migrations
from django.db.models import F
from django.utils import timezone

from core.openings import Opening, open_rows

AT_ONCE = 1000
PHONE = re.compile(r'[+(\d][\d\s().+/-]*(?:(?:ext|x)\.?\s*\d+)?', re.IGNORECASE)
LEAST_DIGITS, LONGEST_PHONE = 7, 40
AFTER_FAMILY_NAME = {'jr', 'jr.', 'sr', 'sr.', 'ii', 'iii', 'iv'}


def sort_name_of(name):
    words = name.split()
    first = next((at for at in range(len(words) - 1, 0, -1) if words[at].lower() not in AFTER_FAMILY_NAME), 0)
    if first == 0 or ',' in name:
        return ' '.join(words)
    return f"{' '.join(words[first:])}, {' '.join(words[:first])}"


def home_of(contact):
    """Return the column that a contact goes to."""
    try:
        validate_email(contact)
    except ValidationError:
        is_phone = PHONE.fullmatch(contact) and sum(sign.isdecimal() for sign in contact) >= LEAST_DIGITS
        return 'phone' if is_phone and len(contact) <= LONGEST_PHONE else 'contact'
    return 'email'


def chunks(rows):
    last = 0
    while some := list(rows.filter(pk__gt=last).order_by('pk')[:AT_ONCE]):
        last = some[-1].pk
        yield some


def move(apps, schema_editor):
    Student, Guardian = apps.get_model('loans', 'Student'), apps.get_model('loans', 'Guardian')
    for students in chunks(Student.objects.all()):
        guardians = []
        for student in students:
            student.sort_name = sort_name_of(student.name)
            name, contact = student.guardian_name.strip(), student.guardian_contact.strip()
            if name or contact:
                guardians.append(Guardian(student=student, place=1, name=name, **{home_of(contact): contact}))
        Student.objects.bulk_update(students, ['sort_name'])
        Guardian.objects.bulk_create(guardians)
    open_rows(
        [Opening(Guardian)],
        at=timezone.now(),
        event=apps.get_model('core', 'Event'),
        head=apps.get_model('core', 'EventHead'),
    )


def move_back(apps, schema_editor):
    """The older version knows one guardian with one contact, and no loan that was undone: it came back instead."""
    Student, Guardian = apps.get_model('loans', 'Student'), apps.get_model('loans', 'Guardian')
    for students in chunks(Student.objects.all()):
        first = {}
        for row in Guardian.objects.filter(student__in=students).order_by('student', '-place'):
            first[row.student_id] = row
        for student in students:
            row = first.get(student.pk)
            if row is not None:
                ways = ', '.join(way for way in (row.phone, row.email, row.contact) if way)
                student.guardian_name, student.guardian_contact = row.name, ways[:200]
        Student.objects.bulk_update(students, ['guardian_name', 'guardian_contact'])
    undone = apps.get_model('loans', 'Loan').objects.filter(undone_at__isnull=False, returned_at=None)
    undone.update(returned_at=F('undone_at'), returned_to=F('undone_by'))


class Migration(migrations.Migration):

    dependencies = [
        ('core', '0005_revisions'),
        ('loans', '0012_people_and_guardians'),
    ]

    operations = [
        migrations.RunPython(move, move_back),
    ]
