"""Is it worth it? The answer with its math, the decision, and who approves it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.rules.leaving import DISPOSE
from inventory.views.rows import instrument_for
from repairs.forms.worth import DecideForm, SettleForm
from repairs.models import ANSWER_LABELS, WorthDecision
from repairs.pages.approvals import approval_lines, approver_words, decision_lines
from repairs.pages.refused import refusal_notice
from repairs.pages.worth import parts_words, settings_used, spent_words, way_on
from repairs.rules.worth import Answer
from repairs.selectors.decisions import decisions_to_settle, in_force, open_work, refusal_to_tell
from repairs.selectors.demand import somebody_waits_for
from repairs.selectors.shops import approval_limit, orders_to_approve, warranty_of
from repairs.selectors.worth import worth_of
from repairs.services.worth import decide_worth, read_answer, settle_decision
from repairs.views.jobs import benches_near

WAITING = 30  # orders and decisions on a page


def worth_answer(
    request: StaffRequest, instrument: Instrument, *, form: DecideForm | None, waits: bool, status: int = 200
) -> HttpResponse:
    """Render the page; ``form`` is one that was refused."""
    today = timezone.localdate()
    page = worth_of(instrument, is_student_waiting=waits, now=timezone.now(), today=today)
    decisions = list(instrument.worth_decisions.select_related("decided_by", "settled_by")[:6])
    initial = {"answer": page.worth.answer.value, "is_student_waiting": waits}
    job, order = open_work(instrument)
    refused, decided = refusal_to_tell(instrument), in_force(instrument)
    waiting = next((one for one in decisions[:1] if one.is_waiting), None)
    context = {
        "page": page,
        "instrument": instrument,
        "answer": ANSWER_LABELS[page.worth.answer],
        "waits": waits,
        "form": form or DecideForm(initial=initial, benches=benches_near(request, instrument)),
        "decisions": decisions,
        "waiting": waiting,
        "who_approves": waiting
        and approver_words(request.user, asker_id=waiting.decided_by_id, school=instrument.school),
        "refused": refusal_notice(refused, reader=request.user) if refused else None,
        "way_on": way_on(decided, job, order) if decided and not decided.is_refused else None,
        "spent_words": spent_words(page.spent),
        "parts_words": parts_words(page.parts),
        "settings": settings_used(),
        "warranty": warranty_of(instrument, today=today),
        "order": order,
        "may_decide": has_perm_at_school(request.user, "repairs.decide_worth", instrument.school_id),
        "may_send": has_perm_at_school(request.user, "repairs.send_out", instrument.school_id),
    }
    return render(request, "repairs/worth.html", context, status=status)


class WorthView(StaffView):
    permission_required = "repairs.view_worth"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        waiting = request.GET.get("waiting", "")
        waits = waiting == "1" if waiting in {"0", "1"} else somebody_waits_for(instrument)
        return worth_answer(request, instrument, form=None, waits=waits)


class DecideWorthView(StaffView):
    permission_required = "repairs.decide_worth"

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        form, now = DecideForm(request.POST, benches=benches_near(request, instrument)), timezone.now()
        waits = request.POST.get("is_student_waiting") in {"on", "True", "true", "1"}
        if form.is_valid():
            with stored_language():
                page = worth_of(instrument, is_student_waiting=waits, now=now, today=timezone.localdate())
            given = form.decided() | {"is_student_waiting": waits}
            try:
                decision = decide_worth(instrument=instrument, worth=page.worth, actor=request.user, at=now, **given)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                return redirect_decided(request, decision)
        return worth_answer(request, instrument, form=form, waits=waits, status=422)


def redirect_retired(request: StaffRequest, decision: WorthDecision) -> HttpResponse:
    """Redirect to where it is recorded how it leaves, for who may; else to its page."""
    may_dispose = has_perm_at_school(request.user, DISPOSE, decision.instrument.school_id)
    return redirect("desk:leave" if may_dispose else "desk:instrument", decision.instrument.asset_number)


def redirect_decided(request: StaffRequest, decision: WorthDecision) -> HttpResponse:
    """Redirect to the page where the decision is carried out."""
    number = decision.instrument.asset_number
    if not decision.holds:
        words = gettext("Decided. It is waiting for approval: %(because)s.")
        messages.info(request, words % {"because": decision.approval_because})
        return redirect("repairs:worth", number)
    messages.success(request, gettext("Decided: %(answer)s.") % {"answer": decision.get_answer_display().lower()})
    if decision.answer == Answer.KEEP_FOR_PARTS:
        return redirect("repairs:parts-horn", number)
    if decision.answer == Answer.RETIRE:
        return redirect_retired(request, decision)
    way = way_on(decision, *open_work(decision.instrument))
    return redirect(way["url"] if way else reverse("repairs:worth", args=[number]))


class ApprovalsView(StaffView):
    """Everything that waits for somebody who may approve."""

    permission_required = "repairs.approve_cost"

    def get(self, request: StaffRequest) -> HttpResponse:
        limit = approval_limit()
        orders, decisions = orders_to_approve(request.user), decisions_to_settle(request.user)
        count = orders.count()
        page = Paginator(range(count + decisions.count()), WAITING).get_page(request.GET.get("page"))
        on_page: Any = page.object_list
        settled = slice(max(on_page.start - count, 0), max(on_page.stop - count, 0))  # the decisions follow the orders
        context = {
            "orders": approval_lines(
                orders[on_page.start : on_page.stop].keys_first().for_table().select_related("asked_by")
            ),
            "decisions": decision_lines(
                request.user, decisions[settled].keys_first().select_related("instrument__school", "decided_by")
            ),
            "limit": limit, "page": page,
        }  # fmt: skip
        return render(request, "repairs/approvals.html", context)


class ReadAnswerView(StaffView):
    """Whoever asked has read the answer."""

    permission_required = "repairs.decide_worth"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = WorthDecision.objects.visible_to(request.user, self.permission_required)
        decision = row_or_404(rows.select_related("instrument", "decided_by"), pk=pk)
        try:
            read_answer(decision=decision, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        if request.POST.get("then") == "today":
            return redirect("desk:today")
        return redirect("repairs:worth", decision.instrument.asset_number)


class SettleView(StaffView):
    """Approve a decision, or say why not."""

    permission_required = "repairs.approve_cost"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = WorthDecision.objects.visible_to(request.user, self.permission_required)
        decision = row_or_404(rows.select_related("instrument"), pk=pk)
        form = SettleForm(request.POST)
        if form.is_valid():
            is_approved = form.cleaned_data["answer"] == "yes"
            try:
                settle_decision(
                    decision=decision, is_approved=is_approved, note=form.cleaned_data["note"], actor=request.user,
                    at=timezone.now(),
                )  # fmt: skip
            except RefusedError as error:
                messages.error(request, str(error))
            else:
                messages.success(
                    request, gettext("Approved.") if is_approved else gettext("Not approved. The reason is kept.")
                )
                if is_approved and decision.answer == Answer.RETIRE:
                    return redirect_retired(request, decision)
        else:
            messages.error(request, gettext("Approve it or not."))
        return redirect("repairs:worth", decision.instrument.asset_number)
