"""Every change to students, terms and loans."""

from loans.services.agreements import Signing, file_agreement_pdf, sign_agreement, terms_in_force, write_terms
from loans.services.assigning import (
    drop_assignment,
    exclude_instrument,
    fix_line,
    give_instrument,
    lock_assignment,
    note_list_printed,
    propose_assignment,
    solve_again,
)
from loans.services.due_dates import change_due_dates, file_addendum_pdf
from loans.services.erasing import erase_student
from loans.services.grades import roll_grades, undo_grade_roll
from loans.services.holds import lift_hold, set_hold
from loans.services.leaving import let_students_leave, note_student_left
from loans.services.lending import lend_instrument
from loans.services.listed import Listed, lend_as_listed
from loans.services.mistakes import lend_to_right_student, undo_loan, undo_renewal
from loans.services.papers import delete_papers
from loans.services.renewing import renew_loan
from loans.services.returning import correct_accessories_back, return_loan, undo_return
from loans.services.roster import Imported, SchoolRoster, choose_courses, import_rosters
from loans.services.seats import (
    add_ensemble,
    add_period,
    change_ensemble,
    change_period,
    end_seats,
    seat_students,
    set_seats,
)
from loans.services.sharing import share_instrument
from loans.services.students import NewGuardian, NewStudent, add_student, change_student, note_copy
