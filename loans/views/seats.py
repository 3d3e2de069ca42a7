"""Ensembles and classes of a school, who plays what in them, and what that needs."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.tables import FILE_FORMS
from core.views import FormView, StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from inventory.models import School, schools_of
from loans.forms.seats import ClassStudentsForm, EnsembleForm, PeriodForm, SeatsForm
from loans.models import ClassPeriod, Ensemble
from loans.pages.seats import NEED_HEADER, need_page, need_rows, places_page
from loans.rules.grades import in_order
from loans.selectors.seats import need_of, places_of, seats_in, unseated_students
from loans.services import (
    add_ensemble,
    add_period,
    change_ensemble,
    change_period,
    end_seats,
    seat_students,
    set_seats,
)

NEED, SEAT, CHANGE = "loans.view_need", "loans.view_seat", "loans.change_seat"
MOST_LISTED = 300


def chosen_school(request: StaffRequest, permission: str) -> tuple[School | None, list[School]]:
    """Return the school that a page is about, and those there are to choose from; None where there is none at all."""
    schools = list(schools_of(request.user, permission).order_by("name"))
    code = request.GET.get("school", "")
    return next((one for one in schools if one.code == code), schools[0] if schools else None), schools


class EnsemblesView(StaffView):
    permission_required = NEED

    def get(self, request: StaffRequest) -> HttpResponse:
        school, schools = chosen_school(request, NEED)
        doors = [
            (_("What is needed"), _at(school, "loans:need")),
            (_("How hand-out is going"), _at(school, "desk:hand-out-board")),
        ]
        if request.user.has_perm("desk.plan_season"):
            doors.append((_("Season plan"), _at(school, "desk:season-plan")))
        if request.user.has_perm("loans.assign"):
            doors.append((_("Who gets which instrument"), _at(school, "loans:assignments")))
        acts: list[dict[str, Any]] = []
        if request.user.has_perm(CHANGE):
            acts.append({"label": _("Add an ensemble"), "url": reverse("loans:add-ensemble")})
            acts.append({"label": _("Add a class"), "url": reverse("loans:add-period"), "main": True})
        may = partial(has_perm_at_school, request.user, school_id=school.pk) if school else request.user.has_perm
        context = {
            "school": school,
            "schools": schools,
            "page": places_page(*places_of(school)) if school else None,
            "doors": doors,
            "acts": acts,
            "may_see": may(SEAT),
            "may_see_loans": may("loans.view_loan"),
            "may_change": may(CHANGE),
        }
        return render(request, "loans/ensembles.html", context)


class NeedView(StaffView):
    permission_required = NEED

    def get(self, request: StaffRequest) -> HttpResponseBase:
        school, schools = chosen_school(request, NEED)
        needs = need_of(school, today=timezone.localdate()) if school else ()
        page = need_page(needs)
        file = school and self.export_lines(
            what="need", title=_("What is needed"), header=NEED_HEADER, rows=need_rows(page), count=len(page["lines"]),
            schools=[school.pk], under=str(school),
        )  # fmt: skip
        if file:
            return file
        context = {"school": school, "schools": schools, "page": page, "files": FILE_FORMS}
        return render(request, "loans/need.html", context)


def _at(school: School | None, page: str) -> str:
    return reverse(page) + (f"?school={school.code}" if school else "")


class AddPlaceView(FormView, is_base=True):
    """Add an ensemble or a class."""

    template_name = "loans/place_form.html"

    def form(self, row: None, data: Any = None) -> EnsembleForm | PeriodForm:
        form: EnsembleForm | PeriodForm = self.form_class(  # type: ignore[assignment, call-arg]
            data, schools=schools_of(self.request.user, self.permission_required)
        )
        return form

    def context(self, row: None, form: Any) -> dict[str, Any]:
        return {"is_ensemble": isinstance(form, EnsembleForm)}


class AddEnsembleView(AddPlaceView):
    permission_required = CHANGE
    form_class = EnsembleForm

    def save(self, row: None, form: EnsembleForm) -> str:
        add_ensemble(**form.school_and_facts, **self.actor_and_time())
        return self.done(_("Added."), "loans:ensembles")


class AddPeriodView(AddPlaceView):
    permission_required = CHANGE
    form_class = PeriodForm

    def save(self, row: None, form: PeriodForm) -> str:
        period = add_period(**form.school_and_facts, **self.actor_and_time())
        return self.done(_("Added. Now say who plays in it."), "loans:period-students", period.pk)


class PlaceView(FormView, is_base=True):
    """A page about one ensemble or class."""

    row_name = "place"
    kind: str  # of the place: "ensemble" or "period"

    def row(self, **lookup: Any) -> Ensemble | ClassPeriod:
        model: Any = Ensemble if self.kind == "ensemble" else ClassPeriod
        rows = model.objects.visible_to(self.request.user, self.permission_required).select_related("school")
        place: Ensemble | ClassPeriod = row_or_404(rows, pk=lookup["pk"])
        return place

    def page_of(self, place: Ensemble | ClassPeriod, page: str = "") -> str:
        return reverse(f"loans:{page.format(self.kind) or self.kind}", args=[place.pk])


class EditPlaceView(PlaceView, is_base=True):
    template_name = "loans/place_form.html"

    def form(self, row: Any, data: Any = None) -> EnsembleForm | PeriodForm:
        form: Any = EnsembleForm if self.kind == "ensemble" else PeriodForm
        made: EnsembleForm | PeriodForm = form(data, schools=[], row=row)
        return made

    def context(self, row: Any, form: Any) -> dict[str, Any]:
        return {"is_ensemble": self.kind == "ensemble"}


class EditEnsembleView(EditPlaceView):
    permission_required = CHANGE
    kind = "ensemble"

    def save(self, row: Ensemble, form: EnsembleForm) -> str:
        change_ensemble(ensemble=row, **form.facts, **self.actor_and_time())
        return self.done(_("Saved."), "loans:ensembles")


class EditPeriodView(EditPlaceView):
    permission_required = CHANGE
    kind = "period"

    def save(self, row: ClassPeriod, form: PeriodForm) -> str:
        change_period(period=row, **form.facts, **self.actor_and_time())
        return self.done(_("Saved."), "loans:ensembles")


class SeatsView(PlaceView, is_base=True):
    """A class: who plays what in it, all on one page."""

    template_name = "loans/class.html"

    def form(self, row: Any, data: Any = None) -> SeatsForm:
        return SeatsForm(data, seats=seats_in(row))

    def context(self, row: Any, form: SeatsForm) -> dict[str, Any]:
        seats: Any = form.seats.values()  # annotated with ``has`` and ``shares``
        return {
            "lines": list(form.lines()),
            "list_url": _at(row.school, "loans:ensembles"),
            "students_url": self.page_of(row, "{}-students"),
            "edit_url": self.page_of(row, "edit-{}"),
            "print_url": f"{reverse('desk:print-to-sign')}?period={row.pk}" if self.kind == "period" else "",
            "unsaid": sum(not seat.kind_code for seat in seats),
            "without": sum(
                bool(seat.kind_code) and not seat.is_own and not seat.has and not seat.shares for seat in seats
            ),
        }

    def save(self, row: Any, form: SeatsForm) -> str:
        if "out" in form.data:
            count = end_seats(place=row, seats=form.checked(), **self.actor_and_time())
            words = ngettext("%(count)d student taken out.", "%(count)d students taken out.", count)
        else:
            count = set_seats(place=row, seats=form.changes(), **self.actor_and_time())
            words = ngettext("%(count)d line changed.", "%(count)d lines changed.", count)
        return self.done(words % {"count": count}, f"loans:{self.kind}", row.pk)


class EnsembleView(SeatsView):
    permission_required = CHANGE
    kind = "ensemble"


class PeriodView(SeatsView):
    permission_required = CHANGE
    kind = "period"


class ClassStudentsView(PlaceView, is_base=True):
    """Students to seat in a class."""

    template_name = "loans/class_students.html"

    def form(self, row: Any, data: Any = None) -> ClassStudentsForm:
        return ClassStudentsForm(data, students=unseated_students(row))

    def context(self, row: Any, form: ClassStudentsForm) -> dict[str, Any]:
        students: Any = unseated_students(row)
        grades = in_order(set(students.order_by().values_list("grade", flat=True)))
        grade = self.request.GET.get("grade", "")
        shown = students.filter(grade=grade) if grade in grades else students
        return {
            "grades": grades,
            "grade": grade,
            "students": shown.order_by("elsewhere", "sort_name", "pk")[:MOST_LISTED],
            "total": shown.count(),
            "back_url": self.page_of(row),
            "checked": {str(one) for one in form["students"].value() or ()},
        }

    def save(self, row: Any, form: ClassStudentsForm) -> str:
        students = list(form.cleaned_data["students"])
        kinds = {one.pk: form.cleaned_data["kind"] for one in students}
        count = len(seat_students(place=row, students=students, kinds=kinds, **self.actor_and_time()))
        words = ngettext("%(count)d student seated.", "%(count)d students seated.", count)
        return self.done(words % {"count": count}, f"loans:{self.kind}", row.pk)


class EnsembleStudentsView(ClassStudentsView):
    permission_required = CHANGE
    kind = "ensemble"


class PeriodStudentsView(ClassStudentsView):
    permission_required = CHANGE
    kind = "period"
