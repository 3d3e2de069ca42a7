"""Scan, find, and the public page of a tag."""

from __future__ import annotations

import re
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.cache import never_cache

from core.views import StaffRequest, StaffView, reads_labels
from desk.forms.reports import ReportForm
from desk.forms.scanning import FindForm
from desk.selectors.finding_instruments import instruments_matching, tag_for
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from inventory.models import District, Tag
from inventory.selectors.leaving import disposal_of
from inventory.services.care import report_problem, source_of
from loans.models import PaperToSign
from loans.rules.codes import code_in

SENT = "sent"  # in the address of a report's page once it is sent, so that going back or reloading sends nothing
THEN = {"lend": "desk:lend-this", "take-back": "desk:take-back"}
SWAP = re.compile(r"swap:([^/\s]+)")


@reads_labels
class ScanView(StaffView):
    """Point the camera at a tag, or type its number."""

    permission_required = "desk.scan"

    def get(self, request: StaffRequest) -> HttpResponse:
        return render(request, "desk/scan.html", {"form": FindForm(), "then": then_of(request)})


@reads_labels
class FindView(StaffView):
    """Go to the instrument that was scanned or typed; list the matches when there are several."""

    permission_required = "desk.scan"

    def get(self, request: StaffRequest) -> HttpResponse:
        form = FindForm(request.GET or None)
        if not form.is_valid():
            shown = {"form": form, "then": then_of(request)}
            return render(request, "desk/scan.html", shown, status=422 if form.is_bound else 200)
        text = form.cleaned_data["text"]
        code = code_in(text)
        if code and PaperToSign.objects.visible_to(request.user).filter(code=code).exists():
            return redirect("desk:paper", code)
        found = instruments_matching(request.user, text)
        then = then_of(request)
        if not found and (tag := tag_for(text)) is not None and tag.revoked_at is not None:
            return redirect("desk:tag", tag.token)  # says what became of it, as far as one may know
        if len(found) == 1:
            return redirect(address_then(then, found[0].asset_number))
        lines = [(row, address_then(then, row.asset_number)) for row in found]
        return render(request, "desk/scan.html", {"form": form, "then": then, "found": lines, "text": text})


def then_of(request: HttpRequest) -> str:
    """What to do with the instrument once found: lend, take-back, swap:NUMBER for the spare of that one, or "" to show it."""
    then = request.GET.get("then", "")
    return then if then in THEN or SWAP.fullmatch(then) else ""


def address_then(then: str, asset_number: str) -> str:
    if swap := SWAP.fullmatch(then):
        return f"{reverse('desk:swap', args=[swap[1]])}?{urlencode({'spare': asset_number})}"
    return reverse(THEN.get(then, "desk:instrument"), args=[asset_number])


@method_decorator([login_not_required, never_cache], name="dispatch")
class TagView(View):
    """What a phone's camera opens. The public sees which school owns it, never who has it or what it is worth."""

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        tag = tag_for(token)
        if tag is None:
            return render(request, "desk/tag_unknown.html", status=404)
        if has_perm_at_school(request.user, "inventory.view_instrument", tag.instrument.school_id):
            if tag.revoked_at is None:
                return redirect("desk:instrument", tag.instrument.asset_number)
            context = {"tag": tag, "staff": True, "disposal": disposal_of(tag.instrument)}
            return render(request, "desk/tag_revoked.html", context, status=410)
        if tag.revoked_at is not None:
            return render(request, "desk/tag_revoked.html", {"staff": False}, status=410)
        return render(request, "desk/tag.html", tag_page(tag))


def tag_page(tag: Tag, form: ReportForm | None = None) -> dict[str, object]:
    return {
        "tag": tag,
        "thing": str(tag.accessory or tag.instrument.kind.name),
        "kind": tag.instrument.kind,
        "school": tag.instrument.school,
        "district": District.objects.first(),
        "form": form or ReportForm(),
    }


@method_decorator([login_not_required, never_cache], name="dispatch")
class ReportView(View):
    """Report a problem with the tagged instrument: no account needed, a few an hour from each network."""

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        tag = tag_for(token)
        if tag is None or tag.revoked_at is not None:
            raise Http404("no such tag")
        page = "desk/report_sent.html" if SENT in request.GET else "desk/report.html"
        return render(request, page, tag_page(tag))

    def post(self, request: HttpRequest, token: str) -> HttpResponse:
        tag = tag_for(token)
        if tag is None or tag.revoked_at is not None:
            raise Http404("no such tag")
        form = ReportForm(request.POST)
        if form.is_valid():
            if form.cleaned_data["website"]:
                return redirect(f"{request.path}?{SENT}")
            source = source_of(request.META.get("REMOTE_ADDR", ""))
            is_staff = has_perm_at_school(request.user, "inventory.handle_report", tag.instrument.school_id)
            try:
                report_problem(
                    instrument=tag.instrument,
                    text=form.cleaned_data["text"],
                    at=timezone.now(),
                    actor=request.user if is_staff else None,  # type: ignore[arg-type]  # who may do that is no stranger
                    source=source,
                    nonce=form.cleaned_data["nonce"],
                )
            except RefusedError as error:
                form.add_error("text", str(error))
            else:
                return redirect(f"{request.path}?{SENT}")
        return render(request, "desk/report.html", tag_page(tag, form), status=422)
