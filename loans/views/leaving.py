"""The turn of the year: grades that go up, and students who leave, many at once."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import School
from loans.forms.leaving import LeaversForm, RollGradesForm
from loans.models import GradeRoll
from loans.rules.due import school_year_ends
from loans.rules.grades import in_order, last_day_of_school, school_year_of
from loans.selectors.grades import grade_lines, roll_of
from loans.selectors.students import held_by, leavers_listed
from loans.services import let_students_leave, roll_grades, undo_grade_roll
from loans.views.seats import chosen_school

CHANGE = "loans.change_student"
MOST_LISTED = 300


class OfSchoolView(FormView, is_base=True):
    """A form about the students of one school, which the address or the user's role names."""

    row_name = "school"

    def row(self, **lookup: Any) -> School:
        school, self.schools = chosen_school(self.request, self.permission_required)
        if school is None:
            raise Http404("no school of the user's")
        return school

    @property
    def today(self) -> date:
        return timezone.localdate()

    @property
    def ends(self) -> tuple[int, int]:
        return school_year_ends(catalog().settings)


class RollGradesView(OfSchoolView):
    """Every student goes up a grade, once a school year."""

    permission_required = CHANGE
    template_name = "loans/grades.html"

    def form(self, row: School, data: Any = None) -> RollGradesForm:
        return RollGradesForm(data, lines=grade_lines(row), left_on=last_day_of_school(self.today, ends=self.ends))

    def context(self, row: School, form: RollGradesForm) -> dict[str, Any]:
        year = school_year_of(self.today, ends=self.ends)
        return {
            "schools": self.schools,
            "year": GradeRoll(year=year),
            "done": roll_of(row, year=year),
            "lines": list(form.lines()),
        }

    def save(self, row: School, form: RollGradesForm) -> str:
        data = form.cleaned_data
        roll = roll_grades(
            school=row,
            steps=form.steps(),
            staying=form.staying(),
            seen=data["seen"],
            left_on=data["left_on"],
            nonce=data["nonce"],
            **self.actor_and_time(),
        )
        words = _("Grades for %(year)s: %(up)d went up, %(left)d left.")
        text = words % {"year": roll, "up": roll.up_count, "left": roll.left_count}
        return f"{self.done(text, 'loans:grades')}?school={row.code}"


class UndoGradesView(StaffView):
    """Give everybody back the grade of before."""

    permission_required = CHANGE
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        rolls = GradeRoll.objects.visible_to(request.user, self.permission_required).select_related("school")
        roll = row_or_404(rolls, pk=pk)
        try:
            undo_grade_roll(roll=roll, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, _("Undone: everybody is back in their earlier grade."))
        return redirect(f"{reverse('loans:grades')}?school={roll.school.code}")


class LeaversView(OfSchoolView):
    """Who leaves: a grade or a class at a time, with what each has out."""

    permission_required = CHANGE
    template_name = "loans/leavers.html"

    def form(self, row: School, data: Any = None) -> LeaversForm:
        return LeaversForm(data, students=leavers_listed(row), initial={"left_on": self.today})

    def context(self, row: School, form: LeaversForm) -> dict[str, Any]:
        students = leavers_listed(row)
        grades = in_order(set(students.order_by().values_list("grade", flat=True)))
        periods = list(row.periods.filter(is_active=True))
        grade, period = self.request.GET.get("grade", ""), self.request.GET.get("period", "")
        if grade in grades and grade:
            students = students.filter(grade=grade)
        if chosen := [one.pk for one in periods if str(one.pk) == period]:
            students = students.filter(seats__period__in=chosen, seats__until=None)
        shown, is_all = list(students[:MOST_LISTED]), "all" in self.request.GET
        held = held_by(shown)
        checked = form["students"].value() or ([one.pk for one in shown] if is_all and not form.is_bound else ())
        query = {"school": row.code, "grade": grade, "period": period, "all": "1"}
        return {
            "schools": self.schools,
            "lines": [(student, held.get(student.pk, [])) for student in shown],
            "total": students.count(),
            "grades": grades,
            "grade": grade,
            "periods": periods,
            "period": period,
            "checked": {str(one) for one in checked},
            "all_query": urlencode({name: value for name, value in query.items() if value}),
            "is_all": is_all,
        }

    def save(self, row: School, form: LeaversForm) -> str:
        students, left_on = form.cleaned_data["students"], form.cleaned_data["left_on"]
        gone = let_students_leave(students=[one.pk for one in students], left_on=left_on, **self.actor_and_time())
        words = [
            ngettext("%(count)d student has left.", "%(count)d students have left.", gone.left) % {"count": gone.left}
        ]
        if gone.flagged:
            flagged = ngettext(
                "%(count)d has an instrument out and stays on the list, flagged, until it is back.",
                "%(count)d have an instrument out and stay on the list, flagged, until it is back.",
                gone.flagged,
            )
            words.append(flagged % {"count": gone.flagged})
        return f"{self.done(' '.join(words), 'loans:leavers')}?{urlencode({'school': row.code})}"
