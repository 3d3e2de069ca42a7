"""Sheets of labels: which labels, on which sheet, from which position on."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext

from core.qr import QrTextError
from core.responses import file_response, home_url
from core.views import StaffRequest, StaffView
from inventory.exceptions import NoPublicAddressError, RefusedError
from inventory.forms.labels import LabelForm, StartForm
from inventory.models import Instrument, InstrumentQuerySet, schools_of
from inventory.pdf import print_labels, public_address
from inventory.rules.labels import SHEETS, LabelError, pages_needed
from inventory.selectors.labels import (
    MOST_LABELS,
    instruments_for_labels,
    label_count,
    tags_for_labels,
    unknown_numbers,
    untagged,
)
from inventory.services.labels import issue_missing_tags


class LabelsView(StaffView):
    """Choose by a form that can be linked to; print by a second one, which notes the tags as printed."""

    permission_required = "inventory.print_labels"

    def rows(self) -> InstrumentQuerySet:
        return Instrument.objects.visible_to(self.request.user, self.permission_required)

    def form(self, data: QueryDict) -> LabelForm:
        return LabelForm(data, schools=list(schools_of(self.request.user, self.permission_required)))

    def get(self, request: StaffRequest) -> HttpResponse:
        start = StartForm(request.GET)  # the place tapped comes along when the choice changes
        return self.shown(self.form(request.GET), start=start.cleaned_data["start"] if start.is_valid() else 1)

    def shown(self, form: LabelForm, *, refused: str = "", start: int = 1, status: int = 200) -> HttpResponse:
        choice = form.choice()
        instruments = instruments_for_labels(self.rows(), choice)
        sheet = SHEETS[form.sheet_chosen]
        count = label_count(instruments, choice)
        start = start if start <= sheet.per_sheet else 1
        context: dict[str, Any] = {
            "form": form,
            "sheet": sheet,
            "positions": range(1, sheet.per_sheet + 1),
            "start": start,
            "count": count,
            "too_many": MOST_LABELS if count > MOST_LABELS else 0,
            "pages": pages_needed(count=count, sheet=sheet, start=start),
            "unknown": unknown_numbers(self.rows(), choice.numbers),
            "refused": refused or self.address_trouble(),
            "may_print": not self.address_trouble(),
            "is_demo_address": settings.DEMO and not settings.PUBLIC_ADDRESS,
            "hidden": [(name, form[name].value() or "") for name in form.fields],
        }
        template = "inventory/labels_print.html" if self.request.htmx else "inventory/labels.html"
        return render(self.request, template, context, status=status)

    def address_trouble(self) -> str:
        try:
            public_address(in_demo=home_url(self.request))
        except NoPublicAddressError as error:
            return str(error)
        return ""

    def post(self, request: StaffRequest) -> HttpResponse:
        form, start = self.form(request.POST), StartForm(request.POST)
        if not start.is_valid():
            return self.shown(form, refused=gettext("Tap the position on the sheet where printing starts."), status=422)
        position = start.cleaned_data["start"]
        try:
            pdf = self.printed(form, position)
        except (RefusedError, LabelError, QrTextError) as error:
            return self.shown(form, refused=str(error), start=position, status=422)
        return file_response(pdf, name=f"labels-{timezone.localdate():%Y-%m-%d}.pdf", is_download=True)

    def printed(self, form: LabelForm, start: int) -> bytes:
        """The public address comes first: without it no tag is issued either."""
        address, choice, now = public_address(in_demo=home_url(self.request)), form.choice(), timezone.now()
        instruments = instruments_for_labels(self.rows(), choice)
        if label_count(instruments, choice) > MOST_LABELS:
            words = gettext("That is more than %(count)s labels. Choose a school, a room or a kind.")
            raise LabelError(words % {"count": f"{MOST_LABELS:,}"})
        issue_missing_tags(instruments=untagged(instruments, choice), actor=self.request.user, at=now)
        tags = list(tags_for_labels(instruments, choice))
        sheet = SHEETS[form.sheet_chosen]
        return print_labels(tags=tags, address=address, sheet=sheet, start=start, actor=self.request.user, at=now)
