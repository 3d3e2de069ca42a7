"""The inspection walk: start it, check the parts, finish it. Every tap is a small post of its own."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from core.views import StaffRequest, StaffView, row_or_404
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.forms.inspecting import (
    CountsForm,
    FindingForm,
    FinishForm,
    PartForm,
    PhotoForm,
    RemoveFindingForm,
    RestForm,
    SafetyForm,
    TapForm,
)
from inventory.models import Inspection, Instrument, Purpose
from inventory.pages.inspecting import PURPOSE_WORDS, blank_walk, purposes_for, walk_page
from inventory.pages.inspection_results import inspection_result
from inventory.selectors.inspecting import newest_hand_out, remarks_unread
from inventory.services.care import keep_photo
from inventory.services.inspecting import (
    answer_safety,
    begin_inspection,
    carry_over_inspection,
    count_accessories,
    drop_inspection,
    finish_inspection,
    look_at_part,
    look_at_rest,
    record_findings,
    remove_finding,
    start_inspection,
    take_tap,
)
from inventory.views.rows import instrument_for

INSPECT = "inventory.inspect_instrument"
STEPS = ("safety", "accessories", "finish")


def walk_or_404(request: StaffRequest, pk: int) -> Inspection:
    """The walk, where the user may inspect at its instrument's school."""
    rows = Inspection.objects.visible_to(request.user, INSPECT)
    return row_or_404(rows.select_related("instrument__school", "instrument__room", "compared_with", "actor"), pk=pk)


def begin_walk(*, instrument: Instrument, purpose: str, request: StaffRequest) -> Inspection:
    at = timezone.now()
    if purpose == Purpose.HAND_OUT and instrument.inspected_at is not None:
        return carry_over_inspection(instrument=instrument, purpose=purpose, actor=request.user, at=at)
    compared = newest_hand_out(instrument) if purpose == Purpose.RETURN else None
    return start_inspection(instrument=instrument, purpose=purpose, actor=request.user, at=at, compared_with=compared)


def begun_on_phone(*, instrument: Instrument, purpose: str, key: UUID, request: StaffRequest) -> Inspection:
    """Begin what was tapped without a signal: nothing is filled in from the last walk, for nobody has seen it."""
    compared = newest_hand_out(instrument) if purpose == Purpose.RETURN else None
    return begin_inspection(
        instrument=instrument,
        purpose=purpose,
        key=key,
        compared_with=compared,
        actor=request.user,
        at=timezone.now(),
    )


class InspectView(StaffView):
    """Choose a walk or continue one. A new one starts with the first answer: is it safe to handle?"""

    permission_required = INSPECT

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, INSPECT)
        choices = purposes_for(instrument)
        purpose = request.GET.get("purpose", choices[0]["purpose"] if len(choices) == 1 else "")
        if purpose not in PURPOSE_WORDS:
            return render(request, "inventory/walk_choose.html", {"instrument": instrument, "choices": choices})
        begun = instrument.inspections.drafts().filter(purpose=purpose).first()
        if begun:
            return redirect(place_in(begun, part=request.GET.get("part", "")))
        context = {
            "instrument": instrument,
            "purpose": Purpose(purpose),
            "part": request.GET.get("part", ""),
            "remarks": remarks_unread(instrument),
        }
        return render(request, "inventory/walk_begin.html", context)

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, INSPECT)
        purpose = request.POST.get("purpose", "")
        if purpose not in PURPOSE_WORDS:
            return redirect("inventory:inspect", asset_number)
        form = TapForm(request.POST)
        if form.is_valid() and form.cleaned_data["key"]:
            walk = begun_on_phone(instrument=instrument, purpose=purpose, key=form.cleaned_data["key"], request=request)
            return redirect("inventory:walk", walk.pk)
        walk = begin_walk(instrument=instrument, purpose=purpose, request=request)
        if request.POST.get("is_safe") != "1":  # the walk asks what makes it unsafe
            return redirect(f"{reverse('inventory:walk', args=[walk.pk])}?at=safety&unsafe=1")
        if walk.is_safe is None:
            answer_safety(inspection=walk, is_safe=True, actor=request.user, at=timezone.now())
        return redirect(place_in(walk, part=request.POST.get("part", "")))


def has_part(walk: Inspection, part: str) -> bool:
    return part in {stop.code for stop in walk.instrument.parts}


def place_in(walk: Inspection, *, part: str) -> str:
    """The address of the part on the walk, or of the walk where it has no such part."""
    if has_part(walk, part):
        return reverse("inventory:walk-part", args=[walk.pk, part])
    return reverse("inventory:walk", args=[walk.pk])


def show_walk(
    request: StaffRequest, inspection: Inspection, *, at: str = "", refused: str = "", status: int = 200
) -> HttpResponse:
    """The walk while it is a draft; what it found once it is finished."""
    if not inspection.is_draft:
        context: dict[str, Any] = {"result": inspection_result(inspection, today=timezone.localdate())}
        return render(request, "inventory/walk_result.html", context | {"refused": refused}, status=status)
    page = walk_page(inspection, at=at)
    context = {
        "page": page,
        "refused": refused,
        "is_wrong": "wrong" in request.GET,
        "is_unsafe": "unsafe" in request.GET,
    }
    return render(request, "inventory/walk.html", context, status=status)


class WalkView(StaffView):
    """Every part of the walk is on its page, so that it works without a connection."""

    permission_required = INSPECT

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        at = request.GET.get("at", "")
        inspection = walk_or_404(request, pk)
        refused = str(InspectionClosedError()) if "late" in request.GET and not inspection.is_draft else ""
        return show_walk(request, inspection, at=f"@{at}" if at in STEPS else "", refused=refused)


class BlankWalkView(StaffView):
    """The walk of instruments built like this one, for a phone without a signal: the inspection begins there."""

    permission_required = INSPECT

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        context = {"page": blank_walk(instrument_for(request, asset_number, INSPECT)), "refused": ""}
        return render(request, "inventory/walk.html", context)


class WalkPartView(StaffView):
    permission_required = INSPECT

    def get(self, request: StaffRequest, pk: int, part: str) -> HttpResponse:
        inspection = walk_or_404(request, pk)
        if not has_part(inspection, part):
            raise Http404("this instrument has no such part")
        return show_walk(request, inspection, at=part)


class TapView(StaffView):
    """One tap. A script gets JSON, a form a redirect; a refused tap gets the reason and loses nothing."""

    permission_required = INSPECT
    form_class: type[TapForm] = TapForm
    http_method_names = ["post"]
    by: dict[str, Any]

    def act(self, inspection: Inspection, form: Any) -> None:
        """Call the services, who acts and when being in ``by``."""
        raise NotImplementedError

    def next_url(self, inspection: Inspection, form: TapForm) -> str:
        return reverse("inventory:walk", args=[inspection.pk])

    def form(self, inspection: Inspection) -> TapForm:
        return self.form_class(self.request.POST, self.request.FILES)

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        inspection = walk_or_404(request, pk)
        form = self.form(inspection)
        if not form.is_valid():
            return self.refuse(inspection, form.sentence, status=422)
        self.by = {"actor": request.user, "at": timezone.now()}
        act = partial(self.act, inspection, form)
        try:
            take_tap(inspection=inspection, key=form.cleaned_data["key"], act=act, **self.by)
        except InspectionClosedError as error:
            return self.refuse(inspection, str(error), status=409)
        except RefusedError as error:
            return self.refuse(inspection, str(error), status=422)
        url = self.next_url(inspection, form)
        return JsonResponse({"ok": True, "url": url}) if self.is_script else redirect(url)

    @property
    def is_script(self) -> bool:
        return self.request.headers.get("Accept") == "application/json"

    def refuse(self, inspection: Inspection, sentence: str, *, status: int) -> HttpResponse:
        if self.is_script:
            return JsonResponse({"ok": False, "refused": sentence}, status=status)
        fresh = walk_or_404(self.request, inspection.pk)
        part = self.request.POST.get("part", "")
        at = part if has_part(fresh, part) else ""
        return show_walk(self.request, fresh, at=at, refused=sentence, status=status)


class SafetyView(TapView):
    form_class = SafetyForm

    def act(self, inspection: Inspection, form: SafetyForm) -> None:
        data = form.cleaned_data
        answer_safety(
            inspection=inspection, is_safe=data["is_safe"], unsafe=data["unsafe"], because=data["reason"], **self.by
        )
        if not data["is_safe"]:
            finish_inspection(inspection=inspection, **self.by)


class FineView(TapView):
    form_class = PartForm

    def act(self, inspection: Inspection, form: PartForm) -> None:
        look_at_part(inspection=inspection, part=form.cleaned_data["part"], **self.by)


class RestFineView(TapView):
    form_class = RestForm

    def act(self, inspection: Inspection, form: RestForm) -> None:
        look_at_rest(inspection=inspection, after_part=form.cleaned_data["part"], **self.by)


class FindingView(TapView):
    uploads = 1
    form_class = FindingForm

    def act(self, inspection: Inspection, form: FindingForm) -> None:
        data = form.cleaned_data
        finding = {name: data[name] for name in ("part", "fault", "severity", "detail")}
        note = data["note"] if "note" in self.request.POST else None  # a page kept on a phone does not have it
        record_findings(inspection=inspection, places=data["place"], note=note, **finding, **self.by)
        if data["photo"]:
            keep(inspection, form, by=self.by)


class RemoveFindingView(TapView):
    form_class = RemoveFindingForm

    def act(self, inspection: Inspection, form: RemoveFindingForm) -> None:
        # Named by its content, not by its row: a phone without a connection does not know the row yet.
        data = form.cleaned_data
        for finding in inspection.findings.filter(part=data["part"], place=data["place"], fault=data["fault"]):
            remove_finding(finding=finding, actor=self.request.user)

    def next_url(self, inspection: Inspection, form: TapForm) -> str:
        return reverse("inventory:walk-part", args=[inspection.pk, form.cleaned_data["part"]])


class CountView(TapView):
    def form(self, inspection: Inspection) -> TapForm:
        return CountsForm(self.request.POST, accessories=inspection.instrument.accessories.all(), counts={})

    def act(self, inspection: Inspection, form: CountsForm) -> None:
        count_accessories(instrument=inspection.instrument, counts=form.counts, inspection=inspection, **self.by)


class WalkPhotoView(TapView):
    """Photos may still come in after the walk is finished."""

    uploads = 1
    form_class = PhotoForm

    def act(self, inspection: Inspection, form: PhotoForm) -> None:
        keep(inspection, form, by=self.by)

    def next_url(self, inspection: Inspection, form: TapForm) -> str:
        if inspection.is_draft:
            return place_in(inspection, part=form.cleaned_data["part"])
        return super().next_url(inspection, form)


def keep(inspection: Inspection, form: TapForm, *, by: dict[str, Any]) -> None:
    photo, part = form.cleaned_data["photo"], form.cleaned_data["part"]
    keep_photo(instrument=inspection.instrument, photo=photo, inspection=inspection, part=part, **by)


class FinishView(TapView):
    form_class = FinishForm

    def act(self, inspection: Inspection, form: FinishForm) -> None:
        finish_inspection(inspection=inspection, note=form.cleaned_data["note"], **self.by)


class DropView(StaffView):
    """Ask once, then discard the walk; earlier findings stand."""

    permission_required = INSPECT

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        return render(request, "inventory/walk_drop.html", {"inspection": walk_or_404(request, pk)})

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        inspection = walk_or_404(request, pk)
        try:
            drop_inspection(inspection=inspection, actor=request.user, at=timezone.now())
        except InspectionClosedError as error:
            return show_walk(request, walk_or_404(request, pk), refused=str(error), status=409)
        return redirect("desk:instrument", inspection.instrument.asset_number)
