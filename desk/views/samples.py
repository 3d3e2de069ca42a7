"""Samples: the plan, the fieldwork, the evaluation, the working paper."""

from __future__ import annotations

import secrets
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.exceptions import RefusedError
from core.money import percent
from core.responses import file_response
from core.tables import FILE_FORMS
from core.views import FormView, StaffRequest, StaffView, reads_labels, row_or_404
from desk.forms.samples import USUAL_CUTS, ExamineForm, SamplePlanForm, StopSampleForm
from desk.forms.scanning import FindForm
from desk.pages.samples import (
    DEVIATING_SHOWN,
    ITEMS_HEADER,
    ITEMS_ON_PAPER,
    LEFT_SHOWN,
    conclusion_of,
    fact_lines,
    fleet_words,
    item_lines,
    item_rows,
    paper_of,
    plan_words,
    sample_lines,
    so_far_words,
    state_words,
    strata_lines,
    what_is_tested,
)
from desk.pdf import sample_pdf
from desk.selectors.finding_instruments import instruments_matching
from inventory.models import Sample, SampleItem, Strata, schools_of
from inventory.models.places import school_keys
from inventory.selectors.samples import (
    by_stratum,
    frame_of,
    is_drawn_so,
    item_of,
    progress_of,
    recorded_of,
    stratum_words,
    with_progress,
)
from inventory.services.samples import draw, examine, finish, planned, stop

VIEW, DRAW, EXAMINE = "inventory.view_sample", "inventory.draw_sample", "inventory.examine_sample"
MOST_LISTED = 100
SEED_BYTES = 8
USUAL = {
    "confidence": "95",
    "tolerable": "5",
    "expected": "0",
    "cuts": USUAL_CUTS,
    "strata": Strata.NONE,
    "tested": ["place"],
}


class SamplesView(StaffView):
    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        rows = with_progress(Sample.objects.visible_to(request.user).for_table())[:MOST_LISTED]
        return render(
            request, "desk/samples.html", {"lines": sample_lines(rows), "may_draw": request.user.has_perm(DRAW)}
        )


class NewSampleView(StaffView):
    """The plan, with the size it takes; sent, it is drawn."""

    permission_required = DRAW

    def form(self, data: Any) -> SamplePlanForm:
        return SamplePlanForm(
            data,
            schools=schools_of(self.request.user, DRAW).order_by("name"),
            has_all=school_keys(self.request.user, DRAW) is None,
            initial=USUAL,
        )

    def get(self, request: StaffRequest) -> HttpResponse:
        return self.shown(self.form(request.GET or None))

    def post(self, request: StaffRequest) -> HttpResponse:
        form = self.form(request.POST)
        if not form.is_valid():
            return self.shown(form)
        try:
            sample = draw(
                school=form.cleaned_data["school"],
                plan=form.plan,
                seed=form.cleaned_data["seed"] or secrets.token_hex(SEED_BYTES),
                nonce=form.cleaned_data["nonce"],
                actor=request.user,
                at=timezone.now(),
            )
        except RefusedError as error:
            form.add_error(None, str(error))
            return self.shown(form)
        return redirect("desk:sample", sample.pk)

    def shown(self, form: SamplePlanForm) -> HttpResponse:
        context: dict[str, Any] = {"form": form}
        if form.is_valid():
            plan, school = form.plan, form.cleaned_data["school"]
            frame = frame_of(school, strata=plan.strata, cuts=plan.cuts)
            try:
                found = planned(plan=plan, frame=frame)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                words = stratum_words(plan.strata, cuts=plan.cuts)
                context |= {
                    "found": found,
                    "words": plan_words(found=found, population=frame.population),
                    "strata": strata_lines(found, frame, words=words),
                    "sent": [(name, one) for name in form.fields for one in self.sent(form, name)],
                }
        status = 422 if form.is_bound and form.errors else 200
        return render(self.request, "desk/new_sample.html", context, status=status)

    def sent(self, form: SamplePlanForm, name: str) -> list[str]:
        """Return what was sent of a field, to be sent again by the button that draws."""
        if name == "nonce":
            return [str(form.cleaned_data["nonce"])]
        return [str(one) for one in form.data.getlist(name)]  # type: ignore[attr-defined]  # a QueryDict


class SampleBase(StaffView, is_base=True):
    def sample(self, pk: int, *, permission: str = VIEW) -> Sample:
        return row_or_404(Sample.objects.visible_to(self.request.user, permission).for_table(), pk=pk)


@reads_labels
class SampleView(SampleBase):
    """How far it is and what it says; a number that was scanned or typed leads to its item."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        sample = self.sample(pk)
        may_examine = Sample.objects.visible_to(request.user, EXAMINE).filter(pk=pk).exists()
        find, missed = FindForm(request.GET if "text" in request.GET else None), ""
        if may_examine and sample.is_open and find.is_valid():
            text = find.cleaned_data["text"]
            found = instruments_matching(request.user, text)
            item = item_of(sample, found)
            if item is not None:
                return redirect("desk:sample-item", pk, item.place)
            missed = missed_words(text, count=len(found))
        items, progress = SampleItem.objects.filter(sample=sample), progress_of(sample)
        context = {
            "sample": sample,
            "fleet": fleet_words(sample),
            "tested": what_is_tested(sample),
            "state": state_words(sample, left=progress.left),
            "rates": [percent(one) for one in (sample.confidence, sample.tolerable_rate, sample.expected_rate)],
            "progress": progress,
            "so_far": so_far_words(progress) if progress.examined else "",
            "conclusion": conclusion_of(progress),
            "left": item_lines(items.left())[:LEFT_SHOWN],
            "deviating": item_lines(items.deviating())[:DEVIATING_SHOWN],
            "may_examine": may_examine and sample.is_open,
            "find": find,
            "missed": missed,
            "stop": StopSampleForm(),
        }
        return render(request, "desk/sample.html", context)


def missed_words(text: str, *, count: int) -> str:
    if count:
        return gettext("%(text)s is not in this sample.") % {"text": text}
    return gettext("No instrument has the number, serial or tag %(text)s.") % {"text": text}


class SampleItemView(FormView):
    """One instrument of a sample: what the register said, and what is there."""

    permission_required = EXAMINE
    template_name = "desk/sample_item.html"
    row_name = "item"
    form_class = ExamineForm

    def row(self, **lookup: Any) -> SampleItem:
        rows = SampleItem.objects.visible_to(self.request.user, EXAMINE).select_related("sample__school", "instrument")
        return row_or_404(rows.defer("sample__frame"), sample=lookup["pk"], place=lookup["place"])

    def form(self, row: SampleItem, data: Any = None) -> ExamineForm:
        return ExamineForm(data, initial={"note": row.note, "seen": row.result})

    def context(self, row: SampleItem, form: Any) -> dict[str, Any]:
        now = recorded_of([row.instrument_id])[row.instrument_id]
        return {
            "facts": fact_lines(row.recorded, now),
            "kind": row.instrument.kind.name,
            "tested": what_is_tested(row.sample),
        }

    def save(self, row: SampleItem, form: Any) -> str:
        examine(
            item=row, result=form.cleaned_data["result"], note=form.cleaned_data["note"], seen=form.data.get("seen"),
            **self.actor_and_time(),
        )  # fmt: skip
        label = SampleItem.Result(form.cleaned_data["result"]).label
        words = gettext("%(number)s: %(result)s") % {"number": row.number, "result": str(label).lower()}
        return self.done(words, "desk:sample", row.sample_id)


class CloseSampleView(SampleBase):
    """Finish it, or stop it with a reason."""

    permission_required = EXAMINE
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        sample = self.sample(pk, permission=EXAMINE)
        try:
            if "because" in request.POST:
                stop(sample=sample, because=request.POST["because"], actor=request.user, at=timezone.now())
            else:
                finish(sample=sample, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        return redirect("desk:sample", pk)


def items_of(sample: Sample) -> list[SampleItem]:
    return list(SampleItem.objects.filter(sample=sample).select_related("examined_by").order_by("place"))


class SamplePaperView(SampleBase):
    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        sample = self.sample(pk)
        items = items_of(sample)
        page = paper_of(
            progress_of(sample),
            items,
            strata=by_stratum(items, sample),
            is_same=is_drawn_so(sample, items),
            at=timezone.now(),
        )
        return self.export_pdf(
            lambda: sample_pdf(page), what="sample", schools=schools_in(sample), rows=sample.size, name=f"sample-{pk}.pdf", back=redirect("desk:sample", pk),
            failed=gettext("The PDF could not be made. Use the spreadsheet instead."),
        )  # fmt: skip


class SampleFrameView(SampleBase):
    """The list it was drawn from, byte for byte as its hash was taken."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        sample = self.sample(pk)
        self.note_export("sample frame", form="txt", rows=sample.population, schools=schools_in(sample))
        return file_response(sample.frame.encode(), name=f"sample-{pk}-frame.txt", is_download=True)


class SampleExportView(SampleBase):
    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int, form: str) -> HttpResponseBase:
        if form not in FILE_FORMS:
            raise Http404("no such file")
        sample = self.sample(pk)
        items = items_of(sample)
        name, title = f"sample-{pk}-items.{form}", gettext("Sample %(number)s") % {"number": pk}
        return self.list_file(
            name=name, what="sample items", title=title, header=ITEMS_HEADER, rows=item_rows(items), count=len(items),
            schools=schools_in(sample), back=reverse("desk:sample", args=[pk]), on_paper=ITEMS_ON_PAPER,
        )  # fmt: skip


def schools_in(sample: Sample) -> list[int]:
    return [sample.school_id] if sample.school_id else []
