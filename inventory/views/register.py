"""The register: the list and its export, adding one instrument, correcting it, and its gift record."""

from __future__ import annotations

import uuid
from tempfile import TemporaryFile
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse, HttpResponseRedirect, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import gettext
from django_tables2 import RequestConfig

from core.photos import PhotoRefusedError, clean_photo
from core.responses import stream_response
from core.sheets import save_xlsx, stream_csv
from core.views import StaffRequest, StaffView
from inventory.access import has_perm_at_school
from inventory.catalog.schema import Kind
from inventory.exceptions import RefusedError
from inventory.forms.register import ASKED, OPTION, DonationForm, InstrumentForm, RegisterFilterForm, kind_meant
from inventory.models import District, Donation, Instrument, Readiness, School, Verdict, Whereabouts, schools_of
from inventory.rules.gifts import watched_until
from inventory.selectors.columns import columns_for, export_header, export_rows
from inventory.selectors.register import (
    Sums,
    Wanted,
    in_state,
    kinds_in_use,
    kinds_like,
    known_makers,
    narrowed,
    proposed_number,
    register_of,
)
from inventory.services.registering import change_instrument, record_donation, register_instrument
from inventory.tables import InstrumentTable
from inventory.views.rows import instrument_for

PER_PAGE = 50
STATE_FILTERS = ("whereabouts", "verdict", "readiness")


def without(query: QueryDict, *names: str, **given: str) -> str:
    """The list's address with some filters taken away and others set; the page starts at one again."""
    left = query.copy()
    for name in (*names, "page"):
        left.pop(name, None)
    for name, value in given.items():
        left[name] = value
    kept = [(name, str(value)) for name, value in left.items() if value]
    return f"{reverse('inventory:list')}{'?' if kept else ''}{urlencode(kept)}"


def stats_of(sums: Sums, query: QueryDict, wanted: Wanted) -> list[dict[str, Any]]:
    """The sums above the list, each the filter that shows what it counts."""

    def stat(number: int, what: str, name: str, value: str, verdict: str = "") -> dict[str, Any]:
        current = getattr(wanted, name) == value
        url = without(query, *STATE_FILTERS, **({} if current else {name: value}))
        return {"sum": f"{number:,}", "what": what, "url": url, "current": current, "verdict": verdict}

    return [
        stat(sums.may_go_out, gettext("may go out"), "readiness", Readiness.MAY_GO_OUT, Verdict.PLAYS),
        stat(
            sums.with_limits,
            gettext("may go out, with limits"),
            "readiness",
            Readiness.WITH_LIMITS,
            Verdict.PLAYS_WITH_LIMITS,
        ),
        stat(sums.stays_in, gettext("stay in"), "readiness", Readiness.STAYS_IN),
        stat(sums.with_students, gettext("with students"), "whereabouts", Whereabouts.WITH_STUDENT),
        stat(sums.on_bench, gettext("on the bench"), "whereabouts", Whereabouts.ON_BENCH),
        stat(sums.not_inspected, gettext("not inspected"), "verdict", Verdict.NOT_INSPECTED, Verdict.NOT_INSPECTED),
    ]


def chips_of(form: RegisterFilterForm, query: QueryDict, wanted: Wanted) -> list[dict[str, str]]:
    """The filters in force, each with the address of the list without it."""
    chips = []
    for name in form.fields:
        value = getattr(wanted, name)
        if value:
            words = dict(getattr(form.fields[name], "choices", ())).get(str(value), f"“{value}”")
            chips.append({"label": str(words), "url": without(query, name)})
    return chips


class RegisterView(StaffView):
    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        schools = list(schools_of(request.user))
        form = RegisterFilterForm(request.GET, schools=schools)
        wanted = form.wanted()
        register = register_of(request.user, wanted, today=today)
        table = InstrumentTable(register.rows, today=today, exclude=("school",) if len(schools) < 2 else ())
        table.data.set_count(register.sums.shown)
        RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
        chips = chips_of(form, request.GET, wanted)
        context = {
            "table": table,
            "form": form,
            "stats": stats_of(register.sums, request.GET, wanted),
            "is_cut": register.is_cut,
            "chips": chips,
            "clear_url": reverse("inventory:list") if len(chips) > 1 else "",
            "query": without(request.GET).partition("?")[2],
            "empty": empty_list(request, is_filtered=bool(chips)),
            "bar_acts": list_acts(request),
            "may_import": request.user.has_perm("inventory.import_instruments"),
            "is_more_wanted": bool(wanted.verdict or wanted.readiness),
        }
        template = "inventory/instrument_list.html" + ("#list" if request.htmx else "")
        return render(request, template, context)


def list_acts(request: StaffRequest) -> list[dict[str, Any]]:
    acts: list[dict[str, Any]] = []
    if request.user.has_perm("inventory.print_labels"):
        acts.append({"label": gettext("Print labels"), "url": reverse("inventory:labels")})
    if request.user.has_perm("inventory.add_instrument"):
        acts.append({"label": gettext("Add one"), "url": reverse("inventory:add"), "main": True})
    return acts


def empty_list(request: StaffRequest, *, is_filtered: bool) -> dict[str, Any]:
    if is_filtered:
        return {
            "title": gettext("No instruments match"),
            "text": gettext("Remove a filter to see more."),
            "acts": [{"label": gettext("Show all"), "url": reverse("inventory:list")}],
        }
    return {
        "title": gettext("No instruments yet"),
        "text": gettext("Import the list you have, or add the first instrument by hand."),
        "acts": first_acts(request),
    }


def first_acts(request: StaffRequest) -> list[dict[str, Any]]:
    if not request.user.has_perm("inventory.import_instruments"):
        return []
    bring = {"label": gettext("Import a spreadsheet"), "url": reverse("inventory:import"), "main": True}
    return [bring, {"label": gettext("Add one"), "url": reverse("inventory:add")}]


class ExportView(StaffView):
    """The list as it is filtered, as a file. No student and no donor is in it."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        today = timezone.localdate()
        wanted = RegisterFilterForm(request.GET, schools=list(schools_of(request.user))).wanted()
        rows = in_state(narrowed(Instrument.objects.visible_to(request.user), wanted), wanted, today=today)
        columns = columns_for(request.user)
        header, lines = export_header(columns), export_rows(rows, columns=columns, today=today)
        name = f"instruments-{today:%Y-%m-%d}.{form}"
        if form == "csv":
            return stream_response(stream_csv(header=header, rows=lines), name=name)
        if form == "xlsx":
            book = TemporaryFile()  # noqa: SIM115  # the answer closes it when it has been sent
            save_xlsx(book, title="Instruments", header=header, rows=lines)
            book.seek(0)
            return FileResponse(book, as_attachment=True, filename=name, headers={"X-Content-Type-Options": "nosniff"})
        raise Http404("no such format")


def kind_part(schools: Any, data: Any) -> dict[str, Any]:
    """What the choice of the kind shows: the chips, the one chosen, and its options."""
    chosen = kind_meant(data)
    typed = str(data.get("find", "")).strip()
    offered = kinds_like(typed) if typed else kinds_in_use(schools, today=timezone.localdate())
    if chosen and chosen not in offered:
        offered = [chosen, *offered]
    return {"chosen": chosen, "offered": offered, "find": typed}


class KindView(StaffView):
    """The part of the form that follows the kind, for htmx."""

    permission_required = "inventory.add_instrument"

    def get(self, request: StaffRequest) -> HttpResponse:
        schools = schools_of(request.user, self.permission_required)
        context = kind_part(schools, request.GET)
        form = InstrumentForm(initial=dict(request.GET.items()), schools=list(schools), kind=context["chosen"])
        return render(request, "inventory/instrument_form.html#kind", context | {"form": form})


class AddView(StaffView):
    """Register one instrument: the kind, and what is written on it; the rest can wait."""

    permission_required = "inventory.add_instrument"

    def shown(
        self, request: StaffRequest, form: InstrumentForm, data: Any, *, once: str = "", status: int = 200
    ) -> HttpResponse:
        schools = schools_of(request.user, self.permission_required)
        context = kind_part(schools, data) | {
            "form": form,
            "once": once or uuid.uuid4(),
            "proposed": proposed_number(District.objects.first()),
            "is_photo_lost": bool(request.FILES),
            "makers": known_makers(Instrument.objects.visible_to(request.user, self.permission_required)),
        }
        return render(request, "inventory/instrument_form.html", context, status=status)

    def get(self, request: StaffRequest) -> HttpResponse:
        schools = list(schools_of(request.user, self.permission_required))
        if not schools:
            messages.info(request, gettext("Add a school first, then its instruments."))
            return redirect("inventory:schools" if request.user.has_perm("inventory.manage_settings") else "desk:today")
        form = InstrumentForm(initial=dict(request.GET.items()), schools=schools, kind=kind_meant(request.GET))
        return self.shown(request, form, request.GET)

    def post(self, request: StaffRequest) -> HttpResponse:
        schools = list(schools_of(request.user, self.permission_required))
        kind = kind_meant(request.POST)
        form = InstrumentForm(request.POST, schools=schools, kind=kind)
        if kind is None:
            typed = request.POST.get("find", "").strip()[:60]
            unknown = gettext("“%(typed)s” is not a kind we know. Choose one.") % {"typed": typed}
            form.add_error(None, unknown if typed else gettext("Choose the kind first."))
        once = str(request.POST.get("once", ""))[:40]
        if kind is not None and form.is_valid():
            try:
                instrument = self.register(request, form, kind, once)
            except RefusedError as error:
                form.add_error(None, str(error))
            except PhotoRefusedError as error:
                form.add_error(None, gettext("Photo: %(reason)s") % {"reason": error})
            else:
                return self.done(request, instrument)
        return self.shown(request, form, request.POST, once=once, status=422)

    def register(self, request: StaffRequest, form: InstrumentForm, kind: Kind, once: str) -> Instrument:
        """Check the photo first: if it is refused, nothing is written. The instrument and its photo are kept together, or neither."""
        upload: Any = request.FILES.get("photo")
        return register_instrument(
            kind_code=kind.code,
            photo=clean_photo(upload, max_bytes=settings.PHOTO_MAX_BYTES) if upload else None,
            actor=request.user,
            at=timezone.now(),
            once=once,
            **form.columns(),
        )

    def done(self, request: StaffRequest, instrument: Instrument) -> HttpResponseRedirect:
        messages.success(request, gettext("%(number)s is registered.") % {"number": instrument.asset_number})
        if request.POST.get("then") != "another":
            return redirect("desk:instrument", instrument.asset_number)
        kept = {
            "kind": instrument.kind_code,
            "school": str(instrument.school_id),
            "room": str(instrument.room_id or ""),
            "acquired_by": instrument.acquired_by,
            "maker": instrument.maker,
        } | {f"{OPTION}{code}": str(choice) for code, choice in instrument.options.items()}
        return redirect(f"{reverse('inventory:add')}?{urlencode(kept)}")


class EditView(StaffView):
    """Edit an instrument's columns. The kind stays: it decides the parts, and what was found on them."""

    permission_required = "inventory.change_instrument"

    def schools(self) -> list[School]:
        """Where it may belong: the schools where the user may correct instruments."""
        return list(schools_of(self.request.user, self.permission_required))

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        initial = {name: getattr(instrument, name) for name in ASKED}
        initial |= {f"{OPTION}{code}": choice for code, choice in instrument.options.items()}
        form = InstrumentForm(initial=initial, schools=self.schools(), kind=instrument.kind, instrument=instrument)
        return self.shown(instrument, form)

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        form = InstrumentForm(request.POST, schools=self.schools(), kind=instrument.kind, instrument=instrument)
        if form.is_valid():
            try:
                change_instrument(instrument=instrument, actor=request.user, at=timezone.now(), **form.columns())
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, gettext("Saved."))
                return redirect("desk:instrument", instrument.asset_number)
        return self.shown(instrument, form, status=422)

    def shown(self, instrument: Instrument, form: InstrumentForm, *, status: int = 200) -> HttpResponse:
        context = {"instrument": instrument, "form": form}
        return render(self.request, "inventory/instrument_edit.html", context, status=status)


class DonationView(StaffView):
    """Who gave it, on a page of its own; it shows no value."""

    permission_required = "inventory.view_donor"

    def shown(self, instrument: Instrument, form: DonationForm, *, status: int = 200) -> HttpResponse:
        gift = Donation.objects.filter(instrument=instrument).first()
        watched = watched_until(received_on=gift.received_on, signed_on=gift.tax_form_signed_on) if gift else None
        context = {
            "instrument": instrument,
            "gift": gift,
            "form": form,
            "watched_until": watched,
            "is_watched": watched is not None and timezone.localdate() <= watched,
            "may_change": self.may_change(instrument),
        }
        return render(self.request, "inventory/donation.html", context, status=status)

    def may_change(self, instrument: Instrument) -> bool:
        return has_perm_at_school(self.request.user, "inventory.change_donor", instrument.school_id)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        gift = Donation.objects.filter(instrument=instrument).first()
        initial = {name: getattr(gift, name) for name in DonationForm.base_fields} if gift else {}
        return self.shown(instrument, DonationForm(initial=initial))

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        if not self.may_change(instrument):
            return self.handle_no_permission()
        form = DonationForm(request.POST)
        if not form.is_valid():
            return self.shown(instrument, form, status=422)
        record_donation(instrument=instrument, actor=request.user, at=timezone.now(), **form.cleaned_data)
        messages.success(request, gettext("Gift record saved."))
        return redirect("inventory:donation", instrument.asset_number)
