"""An opening event for each row that was there before every row had an event of its own."""

from django.db import migrations
from django.db.models import Q
from django.utils import timezone

from core.openings import Opening, open_rows

# The acts that began rows until now. Rows of these models that none of them began are opened.
BEGUN = {
    ('core', 'User'): ('person_added',),
    ('inventory', 'StaffRole'): ('role_given',),
    ('inventory', 'District'): ('district_changed',),
    ('inventory', 'School'): ('school_added',),
    ('inventory', 'Room'): ('room_added',),
    ('inventory', 'Instrument'): ('registered',),
    ('inventory', 'Tag'): ('tag_issued',),
    ('inventory', 'PlayTest'): ('play_tested',),
    ('inventory', 'ProblemReport'): ('problem_reported',),
    ('inventory', 'Photo'): ('photo_kept',),
    ('inventory', 'Donation'): ('gift_recorded',),
    ('inventory', 'ImportBatch'): ('import_begun',),
    ('inventory', 'ChartConfirmation'): ('chart_confirmed',),
    ('loans', 'Student'): ('student_added',),
    ('repairs', 'Bench'): ('bench_set_up',),
    ('repairs', 'Job'): ('job_opened',),
    ('repairs', 'CareDone'): ('care_done',),
    ('repairs', 'WorthDecision'): ('worth_decided',),
    ('repairs', 'Shop'): ('shop_added',),
    ('repairs', 'StockItem'): ('stock_item_added',),
    ('repairs', 'PartsInstrument'): ('kept_for_parts',),
}
# What these hold stood in no event until now: every row is opened, with these columns as they are.
AS_THEY_STAND = {
    ('loans', 'Loan'): ('replacement_amount',),
    ('loans', 'Agreement'): ('terms_id', 'scan_sha256', 'pdf_sha256'),
    ('repairs', 'Attempt'): ('outcome', 'minutes', 'parts_amount'),
    ('repairs', 'RepairBudget'): ('begins_on', 'ends_on'),
    ('repairs', 'ShopOrder'): (
        'shop_id', 'budget_id', 'warranty_of_id', 'is_estimate_only', 'trip_amount', 'expected_low_amount',
        'expected_high_amount', 'estimate_amount', 'estimate_on', 'approved_amount', 'approved_at', 'approved_by_id',
        'refused_at', 'refused_by_id', 'sent_at', 'first_promised_on', 'promised_on', 'returned_at', 'warranty_until',
        'invoice_amount', 'invoice_on', 'play_test_id', 'called_off_at',
    ),
    ('repairs', 'StockMove'): ('quantity', 'after_quantity', 'amount', 'budget_id', 'why'),
    ('repairs', 'TakenPart'): ('part', 'place', 'onto_id', 'fit', 'went', 'went_at', 'shelf_item_id'),
}


def open_what_is_there(apps, schema_editor):
    openings = [Opening(apps.get_model(*one), begins=acts) for one, acts in BEGUN.items()]
    done = Q(finished_at__isnull=False) | Q(dropped_at__isnull=False)
    acts = ('inspected', 'inspection_dropped')
    openings.append(Opening(apps.get_model('inventory', 'Inspection'), begins=acts, needs=done))
    openings += [Opening(apps.get_model(*one), columns=columns) for one, columns in AS_THEY_STAND.items()]
    open_rows(
        openings,
        at=timezone.now(),
        event=apps.get_model('core', 'Event'),
        head=apps.get_model('core', 'EventHead'),
    )


class Migration(migrations.Migration):

    dependencies = [
        ('core', '0004_guard_the_event_log'),
        ('inventory', '0018_parts_taken_are_no_inspection'),
        ('loans', '0005_students_by_name'),
        ('repairs', '0021_play_tests_of_orders'),
    ]

    operations = [
        # Events stay when a migration is taken back: the log only grows.
        migrations.RunPython(open_what_is_there, migrations.RunPython.noop),
    ]
