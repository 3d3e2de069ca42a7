"""The play test: what to play, how it sounded, and what that shows."""

from __future__ import annotations

from typing import Any

from django.forms import BaseForm
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from inventory.forms.playing import PlayTestForm
from inventory.models import PlayTest
from inventory.pages.playing import blank_play_test, play_test_page, play_test_result
from inventory.pages.trends import trend_page
from inventory.selectors.playing import all_notes
from inventory.services.care import record_play_test
from inventory.views.rows import instrument_for

PLAY = "inventory.play_test_instrument"


class PlayTestView(FormView):
    """Play it and record pass, limits or fail; a microphone helps where there is one."""

    permission_required = PLAY
    template_name = "inventory/play_test.html"
    row_name = "page"

    def row(self, **lookup: Any) -> dict[str, Any]:
        instrument = instrument_for(self.request, lookup["asset_number"], PLAY)
        level = self.request.POST.get("level", self.request.GET.get("level", ""))
        return play_test_page(instrument, level=level)

    def form(self, row: dict[str, Any], data: Any = None) -> PlayTestForm:
        initial = {"is_second_opinion": "second" in self.request.GET, "room_unit": "F"}
        listed = [note["written"] for note in row["notes"]]
        return PlayTestForm(data, notes=all_notes(row["instrument"]), listed=listed, initial=initial)

    def shown(self, row: dict[str, Any], form: BaseForm, *, status: int = 200) -> HttpResponse:
        if row["silenced_by"] and not form.is_bound:
            return render(self.request, "inventory/play_test_silent.html", {"page": row})
        return super().shown(row, form, status=status)

    def context(self, row: dict[str, Any], form: PlayTestForm) -> dict[str, Any]:
        lines = [(note, form[f"state-{note['written']}"], form[f"cents-{note['written']}"]) for note in row["notes"]]
        return {"lines": lines}

    def save(self, row: dict[str, Any], form: PlayTestForm) -> str:
        test = record_play_test(instrument=row["instrument"], **self.actor_and_time(), **form.facts)
        words = gettext("Play test saved: %(result)s.") % {"result": test.get_result_display().lower()}
        return self.done(words, "inventory:play-test-result", test.pk)


class BlankPlayTestView(PlayTestView):
    """The play test of instruments built like this one, for a phone without a signal; it is saved to the one at hand."""

    http_method_names = ["get", "head"]

    def row(self, **lookup: Any) -> dict[str, Any]:
        return blank_play_test(instrument_for(self.request, lookup["asset_number"], PLAY))


class PlayTestResultView(StaffView):
    """What a test shows: measured against predicted, and the suspects."""

    permission_required = PLAY

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = PlayTest.objects.visible_to(request.user, PLAY)
        test = row_or_404(rows.select_related("instrument__school", "actor"), pk=pk)
        return render(request, "inventory/play_test_result.html", {"result": play_test_result(test)})


class TrendView(StaffView):
    """Its play tests over the years: whether its pitch drifts."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        context = {"page": trend_page(instrument), "may_read": request.user.has_perm(PLAY)}
        return render(request, "inventory/trend.html", context)
