from desk.demo.seats import ASSIGNED, BANDS, add_assignment, add_seats
from loans.models import ClassPeriod, Ensemble, Loan, Seat
from loans.selectors.assigning import locked_assignment
from loans.selectors.seats import demands_of, need_of
from tests.desk.demo.stages import make_stage


def test_every_student_sits_somewhere_and_most_play_what_they_have_on_loan(db):
    stage = make_stage(seen=True, share=0.3)
    add_seats(stage)
    assert Ensemble.objects.count() == sum(map(len, BANDS.values())) + 1
    assert ClassPeriod.objects.count() == sum(len(classes) for bands in BANDS.values() for *_, classes in bands)
    assert Seat.objects.filter(is_own=True).exists()
    loans = Loan.objects.open().filter(school__code__in=BANDS)
    kinds = set(Seat.objects.values_list("student", "kind_code"))
    assert set(loans.values_list("student", "instrument__kind_code")) <= kinds
    assert need_of(stage.schools["ALDER"], today=stage.today)
    assert demands_of(stage.schools[ASSIGNED], is_unmet=True)
    add_assignment(stage)
    locked = locked_assignment(stage.schools[ASSIGNED])
    assert locked.lines.exists()
