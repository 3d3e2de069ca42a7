"""What is chosen in a list, and one act for all of it: a page says how many and what, and asks what the act needs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar
from urllib.parse import urlsplit
from uuid import UUID, uuid5

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import cached_property
from django.utils.html import format_html, format_html_join
from django.utils.translation import gettext, ngettext

from core.days import full_day
from core.keys import keys_of
from core.responses import home_url
from core.views import FormView, StaffRequest
from desk.forms.picking import SelectionCareForm, SelectionDueForm, SelectionLinksForm, SelectionMoveForm
from desk.services.signing import mail_first_link
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.forms.care import CleaningForm
from inventory.models import Instrument
from inventory.services.care import record_cleaning
from inventory.services.registering import change_instrument
from loans.models import Loan
from loans.services import change_due_dates
from loans.tasks import queue_papers_of
from repairs.forms.jobs import OpenJobForm
from repairs.models import Bench
from repairs.services.care import record_care
from repairs.services.jobs import open_job

MOST = 200  # rows of one act; a page of a list has fewer
NUMBER, ROW = "number", "row"  # by what a list names what is chosen, and by what the page names it again


class SelectionView(FormView, is_base=True):
    """The rows chosen in a list, each done by itself: what is refused is named with its reason, the rest is done.

    Posted twice it does nothing twice: each row has a key of its own, made from the form's.
    """

    template_name = "desk/picked.html"
    row_name = "rows"
    list_page: ClassVar[str] = "inventory:list"

    def seen(self) -> Any:
        """Return the rows that the act may be done to, in the order of their numbers."""
        return Instrument.objects.visible_to(self.request.user, self.permission_required).order_by("asset_number")

    def numbered(self, numbers: Sequence[str]) -> Any:
        return self.seen().filter(asset_number__in=numbers)

    def posted(self) -> set[int]:
        return set(keys_of(self.request.POST.getlist(ROW))[:MOST])

    def row(self, **lookup: Any) -> list[Any]:
        return self.selected

    @cached_property
    def selected(self) -> list[Any]:
        if self.request.method == "POST":
            return list(self.seen().filter(pk__in=self.posted()))
        return list(self.numbered(self.request.GET.getlist(NUMBER)[:MOST])[:MOST])

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        rows = self.row()
        return self.shown(rows, self.form(rows)) if rows else self.nothing()

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        return super().post(request, **lookup) if self.row() else self.nothing()

    def nothing(self) -> HttpResponse:
        messages.info(self.request, gettext("None of the selected rows can be changed this way."))
        return redirect(self.back())

    def back(self) -> str:
        """Return the list as it was when the rows were chosen, with its filters."""
        home = reverse(self.list_page)
        came = urlsplit(self.request.POST.get("back", "") or self.request.headers.get("Referer", ""))
        return f"{home}?{came.query}" if came.path == home and came.query else home

    def save(self, row: list[Any], form: Any) -> str:
        done: list[tuple[str, str]] = []
        left: list[str] = []
        for one in row:
            try:
                done.append((self.url_of(one, self.act(one, form)), self.number_of(one)))
            except RefusedError as error:
                left.append(f"{self.number_of(one)}: {error}")
        if gone := len(self.posted()) - len(row):
            words = ngettext(
                "%(count)d is no longer at your schools.", "%(count)d are no longer at your schools.", gone
            )
            left.append(words % {"count": gone})
        if not done:
            raise RefusedError(" ".join(left))
        links = format_html_join(", ", '<a href="{}">{}</a>', done)
        messages.success(self.request, format_html("{} {}", self.done_words(len(done), form), links))
        if left:
            words = ngettext("%(count)d was left as it is.", "%(count)d were left as they are.", len(left))
            reasons = format_html_join("", "<li>{}</li>", ((why,) for why in left))
            words %= {"count": len(left)}
            messages.warning(self.request, format_html("{}<ul>{}</ul>", words, reasons))
        return self.back()

    def context(self, row: list[Any], form: Any) -> dict[str, Any]:
        back = self.back()
        return {
            "title": self.title(len(row)),
            "lines": [(self.number_of(one), *self.line(one)) for one in row],
            "hidden": [{"name": ROW, "value": one.pk} for one in row] + [{"name": "back", "value": back}],
            "back_url": back,
            "warning": self.warning(row),
            "note": self.note(),
        }

    def key(self, one: Any, form: Any) -> UUID:
        """Return the key of this row in the posted form."""
        return uuid5(form.cleaned_data["nonce"], f"{one.pk}")

    def number_of(self, one: Any) -> str:
        return str(one.asset_number)

    def line(self, one: Any) -> tuple[str, str]:
        """Return what it is, and how it stands."""
        return one.kind.name, one.get_whereabouts_display()

    def url_of(self, one: Any, result: Any) -> str:
        return reverse("desk:instrument", args=[one.asset_number])

    def warning(self, row: list[Any]) -> str:
        """Return what is lost by it, or ""."""
        return ""

    def note(self) -> str:
        return ""

    def title(self, count: int) -> str:
        """Say what will be done, to how many; it is on the button as well."""
        raise NotImplementedError

    def done_words(self, count: int, form: Any) -> str:
        raise NotImplementedError

    def act(self, one: Any, form: Any) -> Any:
        """Do it to one row, in a transaction of its own; RefusedError leaves that row as it is."""
        raise NotImplementedError


class SelectionCleanView(SelectionView):
    permission_required = "inventory.clean_instrument"
    form_class = CleaningForm

    def title(self, count: int) -> str:
        return ngettext("Mark %(count)d instrument clean", "Mark %(count)d instruments clean", count) % {"count": count}

    def done_words(self, count: int, form: Any) -> str:
        return ngettext("%(count)d instrument is clean:", "%(count)d instruments are clean:", count) % {"count": count}

    def note(self) -> str:
        return gettext(
            "Never share a reed. Keep wood out of the water, and alcohol off varnish. Use the cleaner your district allows."
        )

    def act(self, one: Instrument, form: CleaningForm) -> None:
        data = form.cleaned_data
        record_cleaning(
            instrument=one, done=form.cleaned, product=data["product"], wet_minutes=data["wet_minutes"],
            nonce=self.key(one, form), **self.actor_and_time(),
        )  # fmt: skip


class SelectionMoveView(SelectionView):
    """Another room, or another place in one; what is there already stays as it is, its lock's combination too."""

    permission_required = "inventory.change_instrument"

    def form(self, row: list[Instrument], data: Any = None) -> SelectionMoveForm:
        return SelectionMoveForm(data, schools={one.school_id for one in row})

    def title(self, count: int) -> str:
        return ngettext("Move %(count)d instrument", "Move %(count)d instruments", count) % {"count": count}

    def done_words(self, count: int, form: Any) -> str:
        words = ngettext("%(count)d instrument: now in %(room)s.", "%(count)d instruments: now in %(room)s.", count)
        return words % {"count": count, "room": form.cleaned_data["room"].name}

    def line(self, one: Instrument) -> tuple[str, str]:
        return one.kind.name, one.room.name if one.room else gettext("No room")

    def seen(self) -> Any:
        return super().seen().select_related("room", "lock")

    def warning(self, row: list[Instrument]) -> str:
        count = sum(bool(one.lock.combination) for one in row if hasattr(one, "lock"))
        words = ngettext(
            "%(count)d lock combination will be removed. It stays if the instrument is already there.",
            "%(count)d lock combinations will be removed. They stay for instruments that are already there.",
            count,
        )
        return words % {"count": count} if count else ""

    def act(self, one: Instrument, form: SelectionMoveForm) -> None:
        change_instrument(instrument=one, **form.columns(), **self.actor_and_time())


class SelectionBenchView(SelectionView):
    """To the bench: a job is opened for each that is in storage."""

    permission_required = "repairs.open_job"

    def form(self, row: list[Instrument], data: Any = None) -> OpenJobForm:
        benches = Bench.objects.visible_to(self.request.user, self.permission_required).in_use()
        school = row[0].school_id
        return OpenJobForm(data, benches=benches.near(school).select_related("school"))

    def title(self, count: int) -> str:
        words = ngettext("Take %(count)d instrument to the bench", "Take %(count)d instruments to the bench", count)
        return words % {"count": count}

    def done_words(self, count: int, form: Any) -> str:
        words = ngettext("%(count)d instrument is on the bench:", "%(count)d instruments are on the bench:", count)
        return words % {"count": count}

    def url_of(self, one: Instrument, result: Any) -> str:
        return reverse("repairs:job", args=[result.pk])

    def act(self, one: Instrument, form: OpenJobForm) -> Any:
        data = dict(form.cleaned_data)
        data["nonce"] = self.key(one, form)
        return open_job(instrument=one, **data, **self.actor_and_time())


class SelectionCareView(SelectionView):
    """Care that comes round, such as the yearly bath, was done to each that asks for it."""

    permission_required = "repairs.record_care"

    def form(self, row: list[Instrument], data: Any = None) -> SelectionCareForm:
        return SelectionCareForm(data, instruments=row, today=timezone.localdate())

    def title(self, count: int) -> str:
        return ngettext("Record care of %(count)d instrument", "Record care of %(count)d instruments", count) % {
            "count": count
        }

    def done_words(self, count: int, form: Any) -> str:
        words = ngettext(
            "%(care)s: recorded for %(count)d instrument.", "%(care)s: recorded for %(count)d instruments.", count
        )
        return words % {"care": catalog().intervals[form.cleaned_data["code"]].name, "count": count}

    def act(self, one: Instrument, form: SelectionCareForm) -> None:
        data = form.cleaned_data
        record_care(instrument=one, code=data["code"], done_on=data["done_on"], **self.actor_and_time())


class SelectionLoansView(SelectionView, is_base=True):
    """Rows of the list of loans, named by their instruments."""

    list_page = "loans:list"

    def seen(self) -> Any:
        rows = Loan.objects.visible_to(self.request.user, self.permission_required).for_table()
        return rows.order_by("instrument__asset_number", "pk")

    def numbered(self, numbers: Sequence[str]) -> Any:
        return self.seen().open().filter(instrument__asset_number__in=numbers)

    def number_of(self, one: Loan) -> str:
        return str(one.instrument.asset_number)

    def line(self, one: Loan) -> tuple[str, str]:
        return str(one.student.sort_name or one.student), full_day(one.due_on)

    def url_of(self, one: Loan, result: Any) -> str:
        return reverse("loans:loan", args=[one.pk])


class SelectionDueView(SelectionLoansView):
    """Another due date for loans that are out."""

    permission_required = "loans.lend_instrument"
    form_class = SelectionDueForm

    def title(self, count: int) -> str:
        words = ngettext("Change the due date of %(count)d loan", "Change the due date of %(count)d loans", count)
        return words % {"count": count}

    def done_words(self, count: int, form: Any) -> str:
        words = ngettext("%(count)d loan: now due %(day)s.", "%(count)d loans: now due %(day)s.", count)
        return words % {"count": count, "day": full_day(form.cleaned_data["due_on"])}

    def act(self, one: Loan, form: SelectionDueForm) -> None:
        queue_papers_of(change_due_dates(loans=[one], due_on=form.cleaned_data["due_on"], **self.actor_and_time()))


class SelectionLinksView(SelectionLoansView):
    """A link to sign is mailed for each loan that nobody has signed for yet."""

    permission_required = "loans.lend_instrument"
    form_class = SelectionLinksForm

    def title(self, count: int) -> str:
        words = ngettext("Send a link to sign for %(count)d loan", "Send links to sign for %(count)d loans", count)
        return words % {"count": count}

    def done_words(self, count: int, form: Any) -> str:
        return ngettext("%(count)d link is on its way:", "%(count)d links are on their way:", count) % {"count": count}

    def act(self, one: Loan, form: SelectionLinksForm) -> None:
        mail_first_link(loan=one, home=home_url(self.request), **self.actor_and_time())
