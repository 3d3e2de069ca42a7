"""Physical counts: open one, count with as many phones as there are, settle the differences, sign."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from core.tables import FILE_FORMS
from core.views import (
    FormView,
    StaffRequest,
    StaffView,
    confirm_approver,
    reads_labels,
    row_or_404,
    sheet_response,
)
from core.waited import HEADER
from desk.forms.counting import OpenCountForm, SettleForm, SightingForm
from desk.pages.counting import (
    SHEET_HEADER,
    as_known,
    difference_groups,
    due_lines,
    refusal_of,
    scan_text,
    scope_words,
    settled_lines,
    sheet_cells,
    sheet_groups,
    sighting_line,
    stats_of,
)
from desk.pdf import count_pdf
from desk.selectors.counting import counters_of, scan_of, sheet_rows
from inventory.access import has_perm_at_school, people_who_may
from inventory.exceptions import RefusedError
from inventory.models import Count, Room, Sighting, schools_of
from inventory.models.places import school_keys
from inventory.selectors.counts import count_dues, differences_of, latest_sightings, progress_of, rooms_of
from inventory.services.counts import (
    count_again,
    drop_count,
    end_counting,
    open_counts,
    record_sighting,
    sign_count,
    undo_sighting,
)

VIEW, COUNT, MANAGE = "inventory.view_count", "inventory.count_instruments", "inventory.manage_count"
SHOWN = 30  # of the latest sightings
PAST_SHOWN = 40


class CountsView(StaffView):
    """Which school is due, what is being counted, and the counts before."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        past = Count.objects.visible_to(request.user).closed().for_table()
        context = {
            "lines": due_lines(count_dues(request.user, today=timezone.localdate())),
            "past": list(past[:PAST_SHOWN]),
            "may_open": schools_of(request.user, MANAGE).exists(),
        }
        return render(request, "desk/counts.html", context)


class OpenCountView(FormView):
    """Choose what is counted. ``?school=CODE`` offers the rooms of that school."""

    permission_required = MANAGE
    template_name = "desk/count_open.html"

    def form(self, row: None, data: Any = None) -> OpenCountForm:
        schools = schools_of(self.request.user, MANAGE)
        if code := self.request.GET.get("school"):
            schools = schools.filter(pk=row_or_404(schools, code=code).pk)
        busy = Count.objects.visible_to(self.request.user, MANAGE).open().values("school")
        free = list(schools.exclude(pk__in=busy)) or list(schools)
        return OpenCountForm(data, schools=free)

    def context(self, row: None, form: Any) -> dict[str, Any]:
        return {"school": next(iter(form.known.values())) if len(form.known) == 1 else None}

    def save(self, row: None, form: OpenCountForm) -> str:
        schools = form.chosen_schools()
        count = open_counts(
            schools=schools,
            rooms=form.chosen_rooms(),
            is_blind=form.cleaned_data["is_blind"],
            nonce=form.cleaned_data["nonce"],
            **self.actor_and_time(),
        )
        if len(schools) > 1:
            return self.done(_("The counts are open."), "desk:counts")
        return reverse("desk:count", args=[count.pk])


@reads_labels
class CountView(StaffView):
    """One box, scan after scan, while it is counted; then what differs; signed, the sheet."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        count = row_or_404(Count.objects.visible_to(request.user).for_table(), pk=pk)
        if count.is_counting:
            return self.counting(count)
        if count.is_open and has_perm_at_school(request.user, MANAGE, count.school_id):
            return redirect("desk:count-settle", count.pk)
        return sheet_page(request, count)

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        count = row_or_404(Count.objects.visible_to(request.user, COUNT).for_table(), pk=pk)
        if not count.is_counting:
            messages.error(request, _("Counting has ended. Nothing was recorded."))
            return redirect("desk:count", count.pk)
        form = self.form(count, request.POST)
        if not form.is_valid():
            return self.counting(count, form=form, refused=form.sentence, status=422)
        text, room = form.cleaned_data["text"], form.chosen_room()
        scan = scan_of(request.user, text)
        refused, spoken = refusal_of(scan, text=text), ""
        if not refused:
            try:
                seen = record_sighting(
                    count=count,
                    text=text,
                    instrument=scan.instrument,
                    room=room,
                    is_typed=not form.cleaned_data["scanned"],
                    actor=request.user,
                    at=timezone.now(),
                )
            except RefusedError as error:
                refused = str(error)
            else:
                spoken = scan_text(seen, self.line(seen.sighting, count))
                is_sent_again = HEADER in request.headers and seen.sighting.actor_id == request.user.pk
                if not seen.is_new and not is_sent_again:
                    refused, spoken = spoken, ""
        if not refused and not request.htmx:
            messages.success(request, spoken)
            return redirect(f"{reverse('desk:count', args=[count.pk])}?room={room.pk if room else ''}")
        return self.counting(count, form=form, refused=refused, spoken=spoken, status=422 if refused else 200)

    def form(self, count: Count, data: Any = None) -> SightingForm:
        rooms = list(Room.objects.filter(school=count.school) if count.is_whole else count.rooms.all())
        initial = {"room": self.request.GET.get("room", "")}
        return SightingForm(data, rooms=rooms, is_whole=count.is_whole, initial=initial)

    def line(self, sighting: Sighting, count: Count) -> dict[str, Any]:
        return sighting_line(sighting, schools=schools_seen(self.request), is_blind=count.hides_expected)

    def counting(
        self, count: Count, *, form: SightingForm | None = None, refused: str = "", spoken: str = "", status: int = 200
    ) -> HttpResponse:
        """Show the page, or to the script what changes on it."""
        progress, user = progress_of(count), self.request.user
        rooms = list(count.rooms.all())
        again = differences_of(count) if count.round > 1 and not count.is_blind else []
        context = {
            "count": count,
            "form": form or self.form(count),
            "refused": refused,
            "spoken": spoken,
            "scope": scope_words(count, rooms),
            "stats": stats_of(progress, is_blind=count.hides_expected),
            "progress": progress,
            "rooms": [] if count.hides_expected or count.round > 1 else rooms_of(count),
            "again": as_known(again, schools=schools_seen(self.request)),
            "lines": [self.line(row, count) for row in latest_sightings(count, most=SHOWN)],
            "may_count": has_perm_at_school(user, COUNT, count.school_id),
            "may_manage": has_perm_at_school(user, MANAGE, count.school_id),
        }
        template = "desk/count.html" + ("#running" if self.request.htmx else "")
        return render(self.request, template, context, status=status)


class UndoSightingView(CountView):
    """Take back a sighting; the running list is shown again."""

    permission_required = COUNT
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int, sighting: int) -> HttpResponse:  # type: ignore[override]
        count = row_or_404(Count.objects.visible_to(request.user, COUNT).for_table(), pk=pk)
        row = row_or_404(Sighting.objects.visible_to(request.user, COUNT), count=count, pk=sighting)
        refused = ""
        try:
            undo_sighting(sighting=row, actor=request.user, at=timezone.now())
        except RefusedError as error:
            refused = str(error)
        if not request.htmx or not count.is_counting:
            if refused:
                messages.error(request, refused)
            return redirect("desk:count", count.pk)
        return self.counting(count, refused=refused, status=422 if refused else 200)


class CountActView(StaffView):
    """End counting, count the differences again, or cancel the count."""

    permission_required = MANAGE
    http_method_names = ["post", "options"]
    ACTS = {"end": end_counting, "again": count_again, "drop": drop_count}

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        count = row_or_404(Count.objects.visible_to(request.user, MANAGE), pk=pk)
        act = self.ACTS.get(request.POST.get("act", ""))
        if act is None:
            return redirect("desk:count", count.pk)
        try:
            done = act(count=count, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
            return redirect("desk:count", count.pk)
        if done.dropped_at:
            messages.success(request, _("The count is canceled. The register was not changed."))
            return redirect("desk:counts")
        return redirect("desk:count", count.pk)


class SettleCountView(FormView):
    """Every difference with a reason, and two signatures. The register changes here and nowhere else."""

    permission_required = MANAGE
    template_name = "desk/count_settle.html"
    row_name = "count"

    def row(self, **lookup: Any) -> Count:
        return row_or_404(Count.objects.visible_to(self.request.user, MANAGE).for_table(), pk=lookup["pk"])

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        count = self.row(**lookup)
        if not count.is_open or count.is_counting:
            return redirect("desk:count", count.pk)
        return self.shown(count, self.form(count))

    def form(self, row: Count, data: Any = None) -> SettleForm:
        seconds = people_who_may(COUNT, school_id=row.school_id).exclude(pk=self.request.user.pk)
        differences = as_known(differences_of(row), schools=schools_seen(self.request))
        return SettleForm(data, differences=differences, seconds=list(seconds))

    def context(self, row: Count, form: Any) -> dict[str, Any]:
        return {
            "groups": difference_groups(form),
            "stats": stats_of(progress_of(row), is_blind=False),
            "scope": scope_words(row, list(row.rooms.all())),
        }

    def save(self, row: Count, form: SettleForm) -> str:
        second = form.chosen_second()
        confirm_approver(self.request, form, second)
        sign_count(count=row, settled=form.settled(), second=second, **self.actor_and_time())
        return self.done(_("The count is signed, and the register is updated."), "desk:count", row.pk)


def sheet_page(request: StaffRequest, count: Count) -> HttpResponse:
    rows = list(sheet_rows(count))
    context = sheet_context(request, count, rows)
    return render(request, "desk/count_sheet.html", context)


def schools_seen(request: StaffRequest) -> frozenset[int] | None:
    """Return the schools whose instruments the user may see; None: all."""
    return school_keys(request.user, "inventory.view_instrument")


def sheet_context(request: StaffRequest, count: Count, rows: list[Any]) -> dict[str, Any]:
    schools, may = schools_seen(request), partial(has_perm_at_school, request.user)
    return {
        "count": count,
        "scope": scope_words(count, list(count.rooms.all())),
        "groups": sheet_groups(rows),
        "settled": settled_lines(rows, count=count, schools=schools, may=may),
        "counters": counters_of(count),
        "total": len(rows),
    }


class CountSheetView(StaffView):
    """The signed sheet as a paper, or every row of a count as a file."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int, form: str) -> HttpResponseBase:
        count = row_or_404(Count.objects.visible_to(request.user).for_table(), pk=pk)
        name = f"count-{count.school.code}-{timezone.localdate(count.opened_at)}.{form}"
        if count.is_open or form not in FILE_FORMS:
            raise Http404("no such file")
        rows, schools = list(sheet_rows(count)), schools_seen(request)
        if form == "pdf":
            page = sheet_context(request, count, rows) | {"rows": list(sheet_cells(rows, schools=schools))}
            back = redirect("desk:count", count.pk)
            return self.export_pdf(
                lambda: count_pdf(page), what="count", rows=len(rows), schools=[count.school_id], name=name,
                failed=_("The sheet could not be made."), back=back,
            )  # fmt: skip
        self.note_export("count", form=form, rows=len(rows), schools=[count.school_id])
        title = f"{_('Count')} {timezone.localdate(count.opened_at)}"
        return sheet_response(name=name, title=title, header=SHEET_HEADER, rows=sheet_cells(rows, schools=schools))
