"""Import a roster or a list of students: send it, choose courses or columns, look at what would change, confirm."""

from __future__ import annotations

from contextlib import closing
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.models import LongWork, LongWorkQuerySet
from core.progress import report_progress
from core.services.long_work import PAGE, Outcome, finish_with, give_up_work
from core.sheets import Sheet, read_sheet
from core.views import FormView, StaffRequest, StaffView, start_work
from inventory.models import School, schools_of
from inventory.selectors.importing import examples_of
from loans.exceptions import RosterRefusedError
from loans.forms.roster import CoursesForm, ListColumnsForm, SendRosterForm, WhoIsWhoForm
from loans.pages.roster import SHOWN, change_groups, change_stats, course_choices, twin_lines
from loans.rules.roster import (
    Source,
    ZipSource,
    check_roster,
    checked_before,
    courses_of,
    guess_fields,
    is_heading,
    places_of,
    read_list,
)
from loans.selectors.roster import SchoolChanges, codes_of, list_changes, school_changes, strange_courses, taken_courses
from loans.services import Imported, SchoolRoster, choose_courses, import_rosters
from loans.services.roster_files import forget_file, forget_files, holds_roster, is_kept, keep_file, open_file

CHANGE = "loans.change_student"
MOST_AT_ONCE = 1000  # students that a request writes; the worker writes more
IMPORT = f"{__name__}.import_sent"
KEY = "roster"  # in the session: what was sent and how far its sender is


@dataclass(slots=True)
class Sent:
    """What was sent, as the session keeps it."""

    file: str
    school: int
    is_roster: bool
    is_checked: bool = False
    columns: dict[str, str] = field(default_factory=dict)


class SendRosterView(FormView):
    uploads = 1
    permission_required = CHANGE
    template_name = "loans/roster.html"
    refused_field = "file"

    def form(self, row: None, data: Any = None) -> SendRosterForm:
        files = None if data is None else self.request.FILES
        return SendRosterForm(data, files, schools=schools_of(self.request.user, CHANGE))

    def save(self, row: None, form: SendRosterForm) -> str:
        file = form.cleaned_data["file"]
        is_roster = holds_roster(file)
        if not is_roster:
            read_sheet(data=file.read(), filename=file.name, is_heading=is_heading)  # refused here, if it is no list
            file.seek(0)
        forget_files(at=timezone.now())
        give_up(self.request)
        sent = Sent(file=keep_file(file), school=form.chosen_school().pk, is_roster=is_roster)
        self.request.session[KEY] = asdict(sent)
        return reverse("loans:roster-courses" if is_roster else "loans:roster-columns")


class SentRosterView(FormView, is_base=True):
    """A step with the file that was sent; without one, the first step."""

    def row(self, **_lookup: Any) -> Sent:
        return Sent(**self.request.session[KEY])

    def school(self, row: Sent) -> School:
        school = schools_of(self.request.user, CHANGE).filter(pk=row.school).first()
        if school is None:
            raise Http404("no such school")
        return school

    def dispatch(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        sent = request.session.get(KEY)
        if request.user.is_authenticated and self.has_permission() and not (sent and is_kept(sent["file"])):
            if sent:
                give_up(request)
                messages.warning(request, gettext("The file is no longer kept. Send it again."))
            return HttpResponseRedirect(reverse("loans:roster"))
        return super().dispatch(request, *args, **kwargs)

    def keep(self, row: Sent) -> None:
        self.request.session[KEY] = asdict(row)


class RosterCoursesView(SentRosterView):
    """Tell what is wrong with the roster, or which courses it has."""

    permission_required = CHANGE
    template_name = "loans/roster_courses.html"
    row_name = "sent"

    def form(self, row: Sent, data: Any = None) -> CoursesForm:
        school = self.school(row)
        with closing(opened(row)) as source:
            self.checked = checked_before(source) if row.is_checked else check_roster(source)
            self.courses = [] if self.checked.problems else self._courses(source, school)
        taken = taken_courses(school)
        return CoursesForm(data, choices=course_choices(self.courses, taken=taken), taken=list(taken))

    def _courses(self, source: Source, school: School) -> list[Any]:
        orgs = codes_of(places_of(source, self.checked)).get(school.code)
        return courses_of(source, self.checked, today=timezone.localdate(), orgs=orgs)

    def context(self, row: Sent, form: CoursesForm) -> dict[str, Any]:
        problems = self.checked.problems
        return {
            "school": self.school(row),
            "problems": problems[:SHOWN],
            "more": max(0, len(problems) - SHOWN),
            "count": len(problems),
        }

    def save(self, row: Sent, form: CoursesForm) -> str:
        if self.checked.problems:
            raise RosterRefusedError(gettext("The roster has problems. Have it corrected and send it again."))
        titles = {course.sourced_id: course.title for course in self.courses}
        chosen = {course: titles[course] for course in form.cleaned_data["courses"]}
        choose_courses(school=self.school(row), courses=chosen, **self.actor_and_time())
        row.is_checked = True
        self.keep(row)
        return reverse("loans:roster-changes")


class RosterColumnsView(SentRosterView):
    """Say what the columns of a list hold."""

    permission_required = CHANGE
    template_name = "loans/roster_columns.html"
    row_name = "sent"

    def form(self, row: Sent, data: Any = None) -> ListColumnsForm:
        self.sheet = sheet_of(row)
        return ListColumnsForm(data, header=self.sheet.header, guessed=guess_fields(self.sheet.header))

    def context(self, row: Sent, form: ListColumnsForm) -> dict[str, Any]:
        sample = self.sheet.sample
        lines = [{"field": field, "examples": examples_of(at, sample=sample)} for at, field in enumerate(form)]
        return {"school": self.school(row), "lines": lines}

    def save(self, row: Sent, form: ListColumnsForm) -> str:
        row.columns = {str(index): held for index, held in form.chosen().items()}
        self.keep(row)
        return reverse("loans:roster-changes")


class RosterChangesView(SentRosterView):
    """Show what would change, ask who is who, and write it."""

    permission_required = CHANGE
    template_name = "loans/roster_changes.html"
    row_name = "sent"

    def form(self, row: Sent, data: Any = None) -> WhoIsWhoForm:
        self.found = changes_for(row, self.school(row))
        return WhoIsWhoForm(data, twins=twin_lines(self.found))

    def context(self, row: Sent, form: WhoIsWhoForm) -> dict[str, Any]:
        problems = self.found.changes.problems
        return {
            "school": self.school(row),
            "stats": change_stats(self.found),
            "groups": change_groups(self.found),
            "problems": problems[:SHOWN],
            "more": max(0, len(problems) - SHOWN),
            "count": len(problems),
            "is_nothing": self.found.is_nothing,
        }

    def save(self, row: Sent, form: WhoIsWhoForm) -> str:
        refuse_problems(self.found)
        if len(self.found.roster.students) > MOST_AT_ONCE:
            return self.leave_to_worker(row, form)
        roster = SchoolRoster(self.school(row), self.found.roster, answers=form.answers())
        (done,) = import_rosters(rosters=[roster], **self.actor_and_time())
        give_up(self.request)
        return self.done(_imported_words(done), "loans:students")

    def leave_to_worker(self, row: Sent, form: WhoIsWhoForm) -> str:
        """Have it written by the worker. The file stays until then, so that one can come back where it is refused."""
        arguments = {"sent": asdict(row), "answers": form.answers(), PAGE: self.request.path}
        return start_work(
            self.request, function=IMPORT, title=gettext("Import a roster"), permission=CHANGE, schools=[row.school],
            arguments=arguments,
        )  # fmt: skip


def import_sent(work: LongWork, at: datetime) -> Outcome:
    """Write a large roster; a second time it changes nothing."""
    row = Sent(**work.arguments["sent"])
    school = schools_of(work.person, CHANGE).filter(pk=row.school).first()
    if school is None:  # the role went meanwhile
        raise RosterRefusedError(gettext("Nothing was imported."))
    if not is_kept(row.file):
        raise RosterRefusedError(gettext("The file is no longer kept. Send it again."))
    report_progress(phase=gettext("Reading the list"))
    found = changes_for(row, school)
    refuse_problems(found)
    report_progress(phase=gettext("Step 2 of 2: saving all of them, or none"))
    rosters = [SchoolRoster(school, found.roster, answers=work.arguments["answers"])]

    def write() -> Outcome:
        (done,) = import_rosters(rosters=rosters, actor=work.person, at=at)
        return Outcome(message=_imported_words(done), url=reverse("loans:students"))

    outcome = finish_with(work=work, act=write, actor=work.person, at=at)
    forget_file(row.file)
    return outcome


class GiveUpRosterView(StaffView):
    """Delete the file that was sent; nothing of it was written, unless the worker was faster."""

    permission_required = CHANGE

    def post(self, request: StaffRequest) -> HttpResponse:
        words = gettext("The file was deleted. Nothing was imported.")
        done = give_up_work(imports_of(request), at=timezone.now(), message=words)
        give_up(request)
        if done is None:
            messages.success(request, words)
        else:
            messages.warning(request, f"{gettext('It was too late to give up.')} {done.message}")
        return HttpResponseRedirect(reverse("loans:students"))


def imports_of(request: StaffRequest) -> LongWorkQuerySet:
    """What the worker has done, or is still to do, with the file that was sent."""
    file = request.session.get(KEY, {}).get("file", "")
    return LongWork.objects.visible_to(request.user).filter(function=IMPORT, arguments__sent__file=file)


def give_up(request: StaffRequest) -> None:
    """Delete the file that was sent, if there is one and the worker does not need it: then it goes with its end."""
    is_needed = imports_of(request).open().exists()
    sent = request.session.pop(KEY, None)
    if sent and not is_needed:
        forget_file(sent["file"])


def opened(row: Sent) -> ZipSource:
    return ZipSource(open_file(row.file))


def sheet_of(row: Sent) -> Sheet:
    with open_file(row.file) as file:
        return read_sheet(data=file.read(), filename="", is_heading=is_heading)


def changes_for(row: Sent, school: School) -> SchoolChanges:
    if not row.is_roster:
        columns = {int(index): held for index, held in row.columns.items()}
        if not columns:
            raise Http404("what its columns hold has not been said")
        roster, problems = read_list(sheet_of(row).rows, columns)
        return list_changes(school=school, roster=roster, problems=problems)
    if not row.is_checked:
        raise Http404("not checked yet")
    with closing(opened(row)) as source:
        checked = checked_before(source)
        courses = taken_courses(school)
        found = school_changes(
            school=school,
            source=source,
            checked=checked,
            courses=courses,
            orgs=codes_of(places_of(source, checked)).get(school.code),
            today=timezone.localdate(),
        )
        found.changes.problems = strange_courses(source, checked, courses=courses) + found.changes.problems
    return found


def refuse_problems(found: SchoolChanges) -> None:
    if found.changes.problems:
        raise RosterRefusedError(gettext("The file has problems. Have it corrected and send it again."))


def _imported_words(done: Imported) -> str:
    if done == Imported():
        return gettext("Imported. Nobody is new, changed or gone.")
    words = gettext(
        "Imported: %(new)d new, %(changed)d changed, %(left)d left, %(flagged)d left with an instrument out."
    )
    return words % asdict(done)
