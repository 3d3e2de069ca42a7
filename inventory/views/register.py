"""The register: the list and its export, adding one instrument, correcting it, and its gift record."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.functional import Promise, cached_property
from django.utils.http import urlencode
from django.utils.translation import gettext, gettext_lazy

from core.tables import SHEET_FORMS, show_page
from core.views import FormView, RememberedView, StaffRequest, StaffView, acts_allowed
from inventory.access import has_perm_at_school
from inventory.forms.register import (
    OPTION,
    SHOWN,
    AddForm,
    DonationForm,
    InstrumentForm,
    RegisterFilterForm,
    kind_meant,
)
from inventory.models import (
    Acquired,
    District,
    Donation,
    Instrument,
    Readiness,
    School,
    Verdict,
    Whereabouts,
    schools_of,
)
from inventory.rules.gifts import watched_until
from inventory.rules.leaving import TRANSFER
from inventory.selectors.columns import columns_for, export_header, export_rows
from inventory.selectors.holders import holders
from inventory.selectors.register import (
    Register,
    Wanted,
    ground_for,
    in_state,
    kinds_in_use,
    kinds_like,
    known_makers,
    proposed_number,
    register_of,
)
from inventory.services.registering import change_instrument, record_donation, register_instrument
from inventory.tables import InstrumentTable
from inventory.views.rows import InstrumentFormView

PER_PAGE = 50
STATE_FILTERS = ("whereabouts", "verdict", "readiness")
# The words of a sum, the filter it is, and the verdict whose sign it bears.
STATS: tuple[tuple[Promise, str, Any, str], ...] = (
    (gettext_lazy("may go out"), "readiness", Readiness.MAY_GO_OUT, Verdict.PLAYS),
    (gettext_lazy("may go out, with limits"), "readiness", Readiness.WITH_LIMITS, Verdict.PLAYS_WITH_LIMITS),
    (gettext_lazy("stay in"), "readiness", Readiness.STAYS_IN, ""),
    (gettext_lazy("with students"), "whereabouts", Whereabouts.WITH_STUDENT, ""),
    (gettext_lazy("on the bench"), "whereabouts", Whereabouts.ON_BENCH, ""),
    (gettext_lazy("not inspected"), "verdict", Verdict.NOT_INSPECTED, Verdict.NOT_INSPECTED),
)


def without(query: QueryDict, *names: str, **given: str) -> str:
    """The list's address with some filters taken away and others set; the page starts at one again."""
    left = query.copy()
    for name in (*names, "page"):
        left.pop(name, None)
    for name, value in given.items():
        left[name] = value
    kept = [(name, str(value)) for name, value in left.items() if value]
    return f"{reverse('inventory:list')}{'?' if kept else ''}{urlencode(kept)}"


def stats_of(register: Register, query: QueryDict, wanted: Wanted) -> list[dict[str, Any]]:
    """The sums above the list, each the filter that shows what it counts; the one in force leads back."""
    stats = []
    for what, name, value, verdict in STATS:
        current = getattr(wanted, name) == value
        url = without(query, *STATE_FILTERS, **({} if current else {name: value}))
        count = f"{register.count(Wanted(**{name: value})):,}"
        stats.append({"sum": count, "what": what, "url": url, "current": current, "verdict": verdict})
    return stats


def chips_of(form: RegisterFilterForm, query: QueryDict, wanted: Wanted) -> list[dict[str, str]]:
    """The filters in force, each with the address of the list without it."""
    chips = []
    for name in form.fields:
        value = getattr(wanted, name)
        if value:
            words = dict(getattr(form.fields[name], "choices", ())).get(str(value), f"“{value}”")
            if name == "grade":
                words = gettext("grade %(grade)s") % {"grade": words}
            chips.append({"label": str(words), "url": without(query, name)})
    return chips


# What may be done with the rows selected in the list.
PICKED = (
    (gettext_lazy("Print labels"), reverse_lazy("inventory:labels"), "inventory.print_labels"),
    (gettext_lazy("Clean"), reverse_lazy("desk:picked-clean"), "inventory.clean_instrument"),
    (gettext_lazy("Care done"), reverse_lazy("desk:picked-care"), "repairs.record_care"),
    (gettext_lazy("Move"), reverse_lazy("desk:picked-move"), "inventory.change_instrument"),
    (gettext_lazy("To the bench"), reverse_lazy("desk:picked-bench"), "repairs.open_job"),
)


class RegisterView(RememberedView):
    list_name = "instruments"
    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest) -> HttpResponseBase:
        if back := self.to_kept_list():
            return back
        today = timezone.localdate()
        schools = list(schools_of(request.user))
        form = RegisterFilterForm(request.GET, schools=schools, grades=holders().grades(request.user, today=today))
        wanted = form.wanted()
        register = register_of(request.user, wanted, today=today)
        picked = acts_allowed(request.user, PICKED)
        unseen = [name for name, is_seen in (("school", len(schools) > 1), ("pick", picked)) if not is_seen]
        table = InstrumentTable(register.rows, today=today, exclude=unseen)
        table.data.set_count(register.count(wanted))
        self.remember(form, table)
        show_page(table, request, per_page=PER_PAGE, files=("pdf",))
        chips = chips_of(form, request.GET, wanted)
        # Before anybody's name is read: who has what is in no file.
        under = ", ".join(chip["label"] for chip in chips)
        keys = [school.pk for school in schools if wanted.school in {None, school.pk}]
        title = gettext("Instruments")
        if file := self.list_export(table, what="instruments", title=title, schools=keys, under=under):
            return file
        table.read_holders(request.user)
        context = {
            "table": table,
            "form": form,
            "stats": stats_of(register, request.GET, wanted),
            "is_cut": register.is_cut,
            "chips": chips,
            "clear_url": reverse("inventory:list") if len(chips) > 1 else "",
            "query": without(request.GET).partition("?")[2],
            "empty": empty_list(request, is_filtered=bool(chips)),
            "bar_acts": list_acts(request),
            "picked_acts": picked,
            "may_import": request.user.has_perm("inventory.import_instruments"),
            "may_transfer": request.user.has_perm(TRANSFER),
            "may_value": request.user.has_perm("desk.view_value"),
            "may_see_counts": request.user.has_perm("inventory.view_count"),
        }
        template = "inventory/instrument_list.html" + ("#list" if request.htmx else "")
        return render(request, template, context)


def list_acts(request: StaffRequest) -> list[dict[str, Any]]:
    labels = {"label": gettext("Print labels"), "url": reverse("inventory:labels")}
    add = {"label": gettext("Add one"), "url": reverse("inventory:add"), "main": True}
    acts = (("inventory.print_labels", labels), ("inventory.add_instrument", add))
    return [act for permission, act in acts if request.user.has_perm(permission)]


def empty_list(request: StaffRequest, *, is_filtered: bool) -> dict[str, Any]:
    if is_filtered:
        return {
            "title": gettext("No instruments match"),
            "text": gettext("Remove a filter to see more."),
            "acts": [{"label": gettext("Show all"), "url": reverse("inventory:list")}],
        }
    bring = {"label": gettext("Import a spreadsheet"), "url": reverse("inventory:import"), "main": True}
    add = {"label": gettext("Add one"), "url": reverse("inventory:add")}
    return {
        "title": gettext("No instruments yet"),
        "text": gettext("Import the list you have, or add the first instrument by hand."),
        "acts": [
            act
            for permission, act in (("inventory.import_instruments", bring), ("inventory.add_instrument", add))
            if request.user.has_perm(permission)
        ],
    }


class ExportView(StaffView):
    """The list as it is filtered, as a file. No student and no donor is in it."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        if form not in SHEET_FORMS:
            raise Http404("no such format")
        today = timezone.localdate()
        schools, grades = list(schools_of(request.user)), holders().grades(request.user, today=today)
        wanted = RegisterFilterForm(request.GET, schools=schools, grades=grades).wanted()
        rows = in_state(ground_for(request.user, wanted, today=today), wanted, today=today)
        keys = [school.pk for school in schools if wanted.school in {None, school.pk}]
        columns = columns_for(request.user)
        header, lines = export_header(columns), export_rows(rows, columns=columns, today=today)
        name = f"instruments-{today:%Y-%m-%d}.{form}"
        return self.list_file(
            name=name, what="instruments", title=gettext("Instruments"), header=header, rows=lines, count=rows.count(),
            schools=keys, back=reverse("inventory:list"),
        )  # fmt: skip


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
        return render(request, "inventory/instrument_form_kind.html#kind", context | {"form": form})


def gift_or_page(request: StaffRequest, instrument: Instrument) -> str:
    """Where a saved instrument leads: a gift nobody has recorded yet to its record, anything else to its page."""
    return "inventory:donation" if may_record_gift(request, instrument) else "desk:instrument"


def gift_of(instrument: Instrument) -> Donation | None:
    """Return the record of who gave it, None where nobody has written one. One query, however often it is asked."""
    return getattr(instrument, "donation", None)


def may_record_gift(request: StaffRequest, instrument: Instrument) -> bool:
    """Whether it is a gift that nobody has recorded yet, and the user registers instruments at its school."""
    is_owed = instrument.acquired_by == Acquired.GIFT and gift_of(instrument) is None
    return is_owed and has_perm_at_school(request.user, "inventory.add_instrument", instrument.school_id)


class AddView(FormView):
    """Register one instrument: the kind, and what is written on it; the rest can wait."""

    uploads = 1
    permission_required = "inventory.add_instrument"
    template_name = "inventory/instrument_form.html"

    @cached_property
    def schools(self) -> list[School]:
        return list(schools_of(self.request.user, self.permission_required))

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        if not self.schools:
            messages.info(request, gettext("Add a school first, then its instruments."))
            return redirect("inventory:schools" if request.user.has_perm("inventory.manage_settings") else "desk:today")
        return super().get(request, **lookup)

    def form(self, row: None, data: Any = None) -> AddForm:
        return AddForm(
            data,
            None if data is None else self.request.FILES,
            initial=dict(self.request.GET.items()),
            schools=self.schools,
            kind=kind_meant(self.request.GET if data is None else data),
        )

    def context(self, row: None, form: AddForm) -> dict[str, Any]:
        schools = schools_of(self.request.user, self.permission_required)
        return kind_part(schools, self.request.POST if form.is_bound else self.request.GET) | {
            "proposed": proposed_number(District.objects.first()),
            "makers": known_makers(Instrument.objects.visible_to(self.request.user, self.permission_required)),
        }

    def save(self, row: None, form: AddForm) -> str:
        """The instrument and its photo are kept together, or neither; a photo that is none was refused by the form."""
        instrument = register_instrument(**self.actor_and_time(), **form.columns())
        words = gettext("%(number)s is registered.") % {"number": instrument.asset_number}
        if self.request.POST.get("then") != "another":
            return self.done(words, gift_or_page(self.request, instrument), instrument.asset_number)
        kept = {
            "kind": instrument.kind_code,
            "school": str(instrument.school_id),
            "room": str(instrument.room_id or ""),
            "acquired_by": instrument.acquired_by,
            "maker": instrument.maker,
        } | {f"{OPTION}{code}": str(choice) for code, choice in instrument.options.items()}
        return f"{self.done(words, 'inventory:add')}?{urlencode(kept)}"


class EditView(InstrumentFormView):
    """Edit an instrument's columns.

    The kind stays: it decides the parts, and what was found on them. The school stays: another one agrees to take it.
    """

    permission_required = "inventory.change_instrument"
    template_name = "inventory/instrument_edit.html"

    def form(self, row: Instrument, data: Any = None) -> InstrumentForm:
        initial = {name: getattr(row, name) for name in SHOWN}
        initial |= {f"{OPTION}{code}": choice for code, choice in row.options.items()}
        return InstrumentForm(data, initial=initial, schools=[row.school], kind=row.kind, instrument=row)

    def context(self, row: Instrument, form: InstrumentForm) -> dict[str, Any]:
        return {"may_transfer": has_perm_at_school(self.request.user, TRANSFER, row.school_id)}

    def save(self, row: Instrument, form: InstrumentForm) -> str:
        columns = {name: value for name, value in form.columns().items() if name != "school"}
        saved = change_instrument(instrument=row, **self.actor_and_time(), **columns)
        return self.done(gettext("Saved."), gift_or_page(self.request, saved), row.asset_number)


class DonationView(InstrumentFormView):
    """Who gave it, on a page of its own; it shows no value.

    Who registers a gift writes its record, and reads it no more.
    """

    permission_required = "inventory.open_gift_record"
    template_name = "inventory/donation.html"

    def row(self, **lookup: Any) -> Instrument:
        instrument: Instrument = super().row(**lookup)
        if not self.may_change(instrument) and (self.request.method == "POST" or not self.may_see(instrument)):
            raise PermissionDenied
        return instrument

    def form(self, row: Instrument, data: Any = None) -> DonationForm:
        gift = gift_of(row)
        begun = {"received_on": timezone.localdate()}
        initial = {name: getattr(gift, name) for name in DonationForm.base_fields if name != "nonce"} if gift else begun
        return DonationForm(data, initial=initial)

    def context(self, row: Instrument, form: DonationForm) -> dict[str, Any]:
        gift = gift_of(row)
        watched = watched_until(received_on=gift.received_on, signed_on=gift.tax_form_signed_on) if gift else None
        return {
            "gift": gift,
            "watched_until": watched,
            "is_watched": watched is not None and timezone.localdate() <= watched,
            "may_change": self.may_change(row),
            "may_see": self.may_see(row),
        }

    def may_see(self, instrument: Instrument) -> bool:
        return has_perm_at_school(self.request.user, "inventory.view_donor", instrument.school_id)

    def may_change(self, instrument: Instrument) -> bool:
        may_always = has_perm_at_school(self.request.user, "inventory.change_donor", instrument.school_id)
        return may_always or may_record_gift(self.request, instrument)

    def save(self, row: Instrument, form: DonationForm) -> str:
        record_donation(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        name = "inventory:donation" if self.may_see(row) else "desk:instrument"
        return self.done(gettext("Gift record saved."), name, row.asset_number)
