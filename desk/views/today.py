"""The first page after logging in."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from desk.pages.asked import own_lines
from desk.pages.counting import notice_of
from desk.pages.history import folded, lines_of
from desk.pages.losses import case_line
from desk.pages.opening import step_lines
from desk.pages.today import stock_lines
from desk.selectors import today as selectors
from desk.selectors.losses import CASES_SHOWN, open_cases
from inventory.selectors.counts import count_dues
from inventory.selectors.opening import first_steps
from repairs.pages.approvals import approval_lines
from repairs.pages.stock import out_of_stock
from repairs.selectors.decisions import own_decisions
from repairs.selectors.shops import refused_orders

EVENTS_SHOWN = 10


class TodayView(StaffView):
    """One section for each role somebody has."""

    permission_required = "desk.view_today"

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        roles = selectors.roles_at(request.user)
        context: dict[str, object] = {"today": today, "roles": roles}
        steps = first_steps(at=timezone.now()) if "administrator" in roles else None
        if steps and not steps.is_aside and not steps.is_finished:
            context["first_steps"] = step_lines(steps)
            if not steps.done["list"]:  # nothing is there yet to lend or to repair
                return render(request, "desk/today.html", context)
        if {"director", "tech"}.intersection(roles):
            context["decisions"] = own_lines(own_decisions(request.user))
            context["reports"] = selectors.reports_to_answer(request.user)
            context["shop_orders"] = selectors.shop_orders(request.user, today=today)
        if "director" in roles:
            director = context["director"] = selectors.director_today(request.user, today=today)
            cases = open_cases(request.user, today=today, most=CASES_SHOWN)
            context["losses"] = [case_line(case, today=today) for case in cases]
            context["stock"] = stock_lines(director["kinds"])
        if "tech" in roles:
            tech = context["tech"] = selectors.tech_today(request.user, today=today)
            lacks = out_of_stock(tech["jobs"])
            context["lacking"] = [(one.job, lacks[one.job.pk]) for one in tech["jobs"] if one.job.pk in lacks]
        if "auditor" in roles:
            auditor = context["auditor"] = selectors.auditor_today(request.user, today=today)
            lines = lines_of(auditor["events"], refs=auditor["refs"], numbers=auditor["numbers"])
            context["activity"] = folded(lines)[:EVENTS_SHOWN]
        if "administrator" in roles and "first_steps" not in context:
            context["administrator"] = selectors.administrator_today(request.user, now=timezone.now())
        if {"director", "administrator"} & {*roles}:
            orders, count = selectors.to_approve(request.user)
            context["approvals"] = {"orders": approval_lines(orders), "count": count}
        if {"director", "auditor"} & {*roles}:
            context["counts"] = notice_of(count_dues(request.user, today=today))
        context["refused"] = refused_orders(request.user)
        return render(request, "desk/today.html", context)
