"""What each role may do with students and loans."""

from __future__ import annotations

from inventory.models import Role

D, T, A, S = Role.DIRECTOR, Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR

PERMISSIONS: dict[str, tuple[str, ...]] = {
    "loans.view_loan": (D, A, S),
    "loans.view_student_name": (D, A),  # on loans and instruments; without it they say "a student"
    "loans.view_student": (D,),  # the student's own page, with guardian and contact details
    "loans.change_student": (D,),
    "loans.view_need": (D, T, A, S),  # ensembles, classes, and how many of each kind they need; no names
    "loans.view_seat": (D,),  # who plays what
    "loans.change_seat": (D,),
    "loans.assign": (D,),  # who gets which instrument
    "loans.lend_instrument": (D,),
    "loans.return_instrument": (D,),
    "loans.send_notice": (D,),  # what families are told, with their names; print the letters, note what came back
    "loans.view_ledger": (D, A),  # an auditor sees amounts and who approved, and names as on loans
    "loans.change_ledger": (D,),
    "loans.approve_waiver": (D, S),  # whom a director may name as having approved one
    "loans.view_loss": (D, A),  # lost and stolen: report numbers, steps and the claim file
    "loans.change_loss": (D,),
    "loans.view_agreement": (D, A),
    "loans.change_hold": (S,),  # of a record; shows no name
    "loans.view_hashes": (A,),  # by which a paper kept elsewhere is checked
    "loans.view_terms": (D, A, S),
    "loans.change_terms": (S,),  # they apply to the whole district, so one school's director may not change them
}
