"""The play test: what to play, how it sounded, and what that shows."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, row_or_404
from inventory.exceptions import RefusedError
from inventory.forms.playing import PlayTestForm
from inventory.models import PlayTest
from inventory.pages.playing import PlayTestPage, play_test_page, play_test_result
from inventory.selectors.playing import all_notes
from inventory.services.care import record_play_test
from inventory.views.rows import instrument_for

PLAY = "inventory.play_test_instrument"


class PlayTestView(StaffView):
    """Play it and record pass, limits or fail; a microphone helps where there is one."""

    permission_required = PLAY

    def page(self, request: StaffRequest, asset_number: str) -> PlayTestPage:
        instrument = instrument_for(request, asset_number, PLAY)
        return play_test_page(instrument, level=request.POST.get("level", request.GET.get("level", "")))

    def shown(
        self, request: StaffRequest, page: PlayTestPage, form: PlayTestForm, *, status: int = 200
    ) -> HttpResponse:
        lines = [(note, form[f"state-{note.written}"], form[f"cents-{note.written}"]) for note in page.notes]
        context: dict[str, Any] = {"page": page, "form": form, "lines": lines}
        return render(request, "inventory/play_test.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        page = self.page(request, asset_number)
        initial = {"is_second_opinion": "second" in request.GET, "room_unit": "F"}
        return self.shown(request, page, PlayTestForm(notes=all_notes(page.instrument), initial=initial))

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        page = self.page(request, asset_number)
        listed = [note.written for note in page.notes]
        form = PlayTestForm(request.POST, notes=all_notes(page.instrument), listed=listed)
        if form.is_valid():
            try:
                test = record_play_test(instrument=page.instrument, actor=request.user, at=timezone.now(), **form.facts)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(
                    request, gettext("Play test saved: %(result)s.") % {"result": test.get_result_display().lower()}
                )
                return redirect("inventory:play-test-result", test.pk)
        return self.shown(request, page, form, status=422)


class PlayTestResultView(StaffView):
    """What a test shows: measured against predicted, and the suspects."""

    permission_required = PLAY

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = PlayTest.objects.visible_to(request.user, PLAY)
        test = row_or_404(rows.select_related("instrument__school", "actor"), pk=pk)
        return render(request, "inventory/play_test_result.html", {"result": play_test_result(test)})
