"""Forms of the pages that join the apps below."""

from __future__ import annotations

from datetime import date, time
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.day_bounds import RECORDED
from core.days import full_day
from core.forms import OnceForm, errors_of, set_choices, set_queryset
from desk.pages.charging import CHOSEN, PRICE
from desk.rules.season_plan import Budgets, Goal
from desk.selectors.charging import Returned
from desk.selectors.listed import Named, Person
from desk.selectors.season_plan import OWN_HANDS
from desk.services.listed import NEW, NOBODY
from inventory.models import Instrument, InstrumentQuerySet, School
from inventory.selectors.past import FIRST_DAY, LAST_DAY, AsOf
from loans.forms.ledger import amount_field
from loans.models import Student
from repairs.models import Bench, BenchQuerySet


class FindForm(forms.Form):
    text = forms.CharField(
        label=_("Number or serial"),
        max_length=300,
        error_messages={"required": _("Type a number first, or scan the tag.")},
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "inputmode": "text", "enterkeyhint": "go"}
        ),
    )


class GiveBackForm(forms.Form):
    """One box for scan after scan, and when what comes in is inspected."""

    text = forms.CharField(
        label=_("Tag or number"),
        max_length=300,
        error_messages={"required": _("Scan a tag or type a number.")},
        widget=forms.TextInput(
            attrs={
                "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "enterkeyhint": "go",
                "autofocus": True,
            }
        ),
    )  # fmt: skip
    now = forms.BooleanField(
        label=_("Inspect each in the line"),
        help_text=_("Otherwise it goes onto the pile and is inspected later."),
        required=False,
    )

    @property
    def sentence(self) -> str:
        """The first error, ready to be shown."""
        return next(iter(errors_of(self)), "")


class ReportForm(OnceForm):
    text = forms.CharField(
        label=_("What is wrong?"),
        max_length=2000,
        error_messages={"required": _("Say in a few words what is wrong.")},
        help_text=_("Please do not include anyone's name."),
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    # A honeypot: people do not see it, bots fill it in.
    website = forms.CharField(required=False, widget=forms.TextInput(attrs={"tabindex": "-1", "autocomplete": "off"}))


class EnteredInErrorForm(OnceForm):
    because = forms.CharField(
        label=_("What is wrong with it?"),
        max_length=400,
        error_messages={"required": _("Say in a few words why it is wrong.")},
        help_text=_("Shown beside the entry. Please do not include anyone's name."),
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def limit_field(label: Any) -> forms.DecimalField:
    """Return a field of money or hours that may stay empty: no limit."""
    return forms.DecimalField(
        required=False, label=label, min_value=0, max_digits=9, decimal_places=2,
        widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
    )  # fmt: skip


class SeasonPlanForm(forms.Form):
    """Whose seats, by when, with how many hours of each bench and how much money. Empty: no limit."""

    school = forms.ModelChoiceField(
        required=False, label=_("School"), queryset=School.objects.none(), empty_label=_("All schools"),
        to_field_name="code",
    )  # fmt: skip
    needed_by = forms.DateField(
        required=False, label=_("Ready by"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    goal = forms.ChoiceField(
        label=_("First"),
        choices=[(Goal.PRIORITY.value, _("Fill the first ensembles")), (Goal.MOST.value, _("Fill the most seats"))],
    )
    repair_money = limit_field(_("Money for parts"))
    shop_money = limit_field(_("Money for outside shops"))
    purchase_money = limit_field(_("Money for new instruments"))

    def __init__(self, *args: Any, schools: QuerySet[School], benches: BenchQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = {school.pk: school.name for school in schools}
        if len(names) > 1:
            set_queryset(self, "school", schools)
        else:
            del self.fields["school"]
        self.benches = {f"hours_{bench.pk}": bench for bench in benches}
        for name, bench in self.benches.items():
            label = f"{names.get(bench.school_id, '')}, {bench.name}" if len(names) > 1 else bench.name
            self.fields[name] = limit_field(gettext("Hours: %(bench)s") % {"bench": label})
        if set(names) - {bench.school_id for bench in benches}:
            self.fields["hours_none"] = limit_field(_("Hours where a school has no bench"))

    @property
    def budgets(self) -> Budgets:
        told = {bench.code: self.cleaned_data[name] for name, bench in self.benches.items()}
        told[OWN_HANDS] = self.cleaned_data.get("hours_none")
        hours = {bench: hours for bench, hours in told.items() if hours is not None}
        money = (self.cleaned_data[name] for name in ("repair_money", "shop_money", "purchase_money"))
        return Budgets(hours or None, *money)


class SeasonJobsForm(OnceForm):
    """The repairs of a season plan that can begin now."""

    numbers = forms.CharField(max_length=20_000, widget=forms.HiddenInput)
    due_on = forms.DateField(required=False, widget=forms.HiddenInput)

    def clean_numbers(self) -> list[str]:
        return str(self.cleaned_data["numbers"]).split()


class BenchDayForm(forms.Form):
    """Which bench, from when, for how long. Missing or invalid values fall back to the usual ones."""

    USUAL_HOURS = 4.0

    bench = forms.ModelChoiceField(
        required=False,
        label=_("Bench"),
        queryset=Bench.objects.none(),
        empty_label=_("All benches"),
        to_field_name="code",
    )
    start = forms.TimeField(
        required=False, label=_("From"), widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    hours = forms.FloatField(
        required=False,
        label=_("Bench hours"),
        min_value=0.25,
        max_value=12,
        widget=forms.NumberInput(attrs={"step": "0.25", "inputmode": "decimal"}),
    )

    def __init__(self, *args: Any, benches: BenchQuerySet, start: time, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {"start": start, "hours": 4})
        super().__init__(*args, **kwargs)
        self.usual_start = start
        if benches.count() < 2:
            del self.fields["bench"]
        else:
            set_queryset(self, "bench", benches)

    def _value(self, name: str) -> Any:
        if not self.is_bound:
            return None
        self.is_valid()
        return self.cleaned_data.get(name)

    @property
    def chosen_bench(self) -> Bench | None:
        chosen: Bench | None = self._value("bench")
        return chosen

    @property
    def start_time(self) -> time:
        return self._value("start") or self.usual_start

    @property
    def hours_long(self) -> float:
        return self._value("hours") or self.USUAL_HOURS

    @property
    def query(self) -> str:
        """Return the query string of the printed sheet, so that it holds what the page shows."""
        return urlencode({"start": f"{self.start_time:%H:%M}"} | self._span)

    @property
    def query_later(self) -> str:
        """Return the query string of the same plan, begun at whatever time it is then."""
        return urlencode(self._span)

    @property
    def _span(self) -> dict[str, str]:
        bench = {"bench": self.chosen_bench.code} if self.chosen_bench else {}
        return {"hours": f"{self.hours_long:g}"} | bench


class MergeForm(forms.Form):
    other = forms.CharField(
        label=_("Number of the other record"),
        max_length=20,
        error_messages={"required": _("Type the number of the other record.")},
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, *args: Any, others: InstrumentQuerySet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.others = others

    def clean_other(self) -> Instrument:
        number = self.cleaned_data["other"].strip().upper()
        found = self.others.filter(asset_number=number).first()
        if found is None:
            raise forms.ValidationError(gettext("There is no other record %(number)s here.") % {"number": number})
        return found


MOST_CHOICES = 700  # people who are each asked about on one page: a form is sent with no more than a thousand fields
DAY = forms.DateInput(attrs={"type": "date"})


class ListedForm(forms.Form):
    """Who has what of an imported list, and what whoever confirms it vouches for."""

    since = forms.DateField(
        label=_("Out since"),
        help_text=_("For the rows that do not say."),
        widget=DAY,
        error_messages={"required": _("Say since when the instruments are out.")},
    )
    due_on = forms.DateField(label=_("Due back"), help_text=_("For the rows that do not say."), widget=DAY)
    signed = forms.ChoiceField(
        label=_("Agreements"),
        choices=[("elsewhere", _("Signed on paper, kept elsewhere")), ("to_sign", _("Still to be signed"))],
        initial="to_sign",
        widget=forms.RadioSelect,
    )
    is_trusted = forms.BooleanField(required=False)
    cleaned_on = forms.DateField(
        required=False, label=_("All of it was cleaned on"), help_text=_("Leave empty if you do not know."), widget=DAY
    )
    cleaned_by = forms.CharField(required=False, max_length=120, label=_("Cleaned by"))

    def __init__(self, *args: Any, named: Named, today: date, due_on: date, trusted_until: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = named.people
        self.named, self.people, self.today, self.trusted_until = named, people, today, trusted_until
        self.fields["due_on"].initial = due_on
        words = gettext("Taken on trust: they may go out until %(day)s without an inspection")
        self.fields["is_trusted"].label = words % {"day": full_day(trusted_until)}
        if not any(one.since is None for person in people for one in person.out):
            del self.fields["since"]
        for person in people:
            if person.match.is_asked or len(people) <= MOST_CHOICES:
                self.fields[person.key] = self._who(person)

    def _who(self, person: Person) -> forms.ChoiceField:
        new = gettext("New student: %(name)s, grade %(grade)s") % {"name": person.name, "grade": person.kept_grade}
        students = [(str(one.pk), f"{one.name}, {gettext('grade')} {one.grade}") for one in person.students]
        choices = [*students, (NEW, new), (NOBODY, gettext("Nobody: it stays in storage"))]
        things = ", ".join(" ".join(filter(None, (one.number, one.kind))) for one in person.out)
        return forms.ChoiceField(
            label=f"{person.name}: {things}",
            choices=[("", gettext("Choose")), *choices] if person.match.is_asked else choices,
            error_messages={"required": gettext("Choose who this is.")},
        )

    def clean_cleaned_on(self) -> date | None:
        day: date | None = self.cleaned_data["cleaned_on"]
        if refusal := RECORDED.refusal(day, today=self.today):
            raise forms.ValidationError(refusal)
        return day

    def who(self) -> dict[str, Student | str]:
        """Each person's key to a student, NEW or NOBODY."""
        chosen: dict[str, Student | str] = {}
        for person in self.people:
            usual = str(person.match.exact[0]) if person.match.exact else NEW
            said = self.cleaned_data.get(person.key) or usual
            by_key = {str(one.pk): one for one in person.students}
            chosen[person.key] = by_key.get(said, said)
        return chosen


class DamageForm(forms.Form):
    """What of a returned loan is charged for, and what is typed: the price of a new accessory, of a repair without one."""

    def __init__(self, *args: Any, returned: Returned, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.returned = returned
        self.fields[CHOSEN] = forms.MultipleChoiceField(
            required=False,
            choices=[(key, key) for key in returned.offered],
            widget=forms.MultipleHiddenInput,
            error_messages={"invalid_choice": _("Some of that is wear, or was charged already.")},
        )
        for one in returned.short:
            if not one.is_charged:
                words = gettext("What a new one costs: %(name)s") % {"name": one.name}
                self.fields[PRICE + one.key] = amount_field(label=words, required=False)
        for key in returned.offered:
            self.fields.setdefault(
                PRICE + key, amount_field(label=gettext("What its repair costs, as a shop says"), required=False)
            )

    def chosen(self) -> list[str]:
        """Return what was chosen, with the accessories that have a price; ``returned.proposed`` where nobody has chosen."""
        if not self.is_bound or not self.is_valid():
            return list(self.returned.proposed)
        missing = {one.key for one in self.returned.short}
        return [*self.cleaned_data[CHOSEN], *(key for key in self.prices() if key in missing)]

    def prices(self) -> dict[str, Decimal]:
        if not self.is_bound or not self.is_valid():
            return {}
        typed = ((key, self.cleaned_data.get(PRICE + key)) for key in self.returned.offered)
        return {key: price for key, price in typed if price}


class ChargeForm(OnceForm, DamageForm):
    """The same, with the amount that was decided on."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            if name.startswith(PRICE):
                field.widget = forms.HiddenInput()
        self.fields["amount"] = amount_field(label=_("Charge the family"))


class ReportToFamilyForm(OnceForm):
    """What the family of a lent instrument is told about a report."""

    bring_on = forms.DateField(required=False, label=_("To be brought on"), widget=DAY)
    spare = forms.ModelChoiceField(
        Instrument.objects.none(),
        required=False,
        label=_("What the student may use until then"),
        empty_label=_("Nothing"),
    )

    def __init__(self, *args: Any, spares: QuerySet[Instrument], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "spare", spares)


class ReportToJobForm(OnceForm):
    """At which bench what was reported is seen to."""

    bench = forms.ModelChoiceField(Bench.objects.none(), label=_("Bench"), empty_label=None)

    def __init__(self, *args: Any, benches: QuerySet[Bench], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "bench", benches)
        first = benches.first()
        self.has_benches = first is not None
        self.fields["bench"].initial = first


class CalendarForm(forms.Form):
    """Of which school a calendar is."""

    school = forms.ModelChoiceField(School.objects.none(), label=_("School"), empty_label=None)


class ValueForm(forms.Form):
    """The day that is asked about, and by when it has to have been known; what is no day is said beside the field."""

    on = forms.DateField(required=False, label=_("At the end of"), widget=DAY)
    known_on = forms.DateField(
        required=False,
        label=_("As it was known on"),
        help_text=_("Leave empty for what the records say now."),
        widget=DAY,
    )

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__({"on": today.isoformat(), **data} if data else {"on": today.isoformat()})
        self.today = today

    def clean_on(self) -> date:
        day: date = self.cleaned_data["on"] or self.today
        if not FIRST_DAY <= day <= LAST_DAY:
            raise forms.ValidationError(gettext("Enter a day from 1900 to 2100."))
        return day

    def clean_known_on(self) -> date | None:
        day: date | None = self.cleaned_data["known_on"]
        if day is not None and not FIRST_DAY <= day <= self.today:
            raise forms.ValidationError(gettext("Enter a day up to today: nobody knows yet what comes after it."))
        return day

    def as_of(self) -> AsOf:
        """Return what was asked for; today where it cannot be answered."""
        return AsOf(**self.cleaned_data) if self.is_valid() else AsOf(self.today)


class FiscalYearForm(forms.Form):
    """An unknown year counts as not given, so that an old link still shows a page."""

    year = forms.ChoiceField(required=False, label=_("Fiscal year"))

    def __init__(self, data: Any, *, years: list[tuple[str, str]]) -> None:
        super().__init__({"year": years[0][0], **data} if data else {"year": years[0][0]})
        set_choices(self, "year", years)

    @property
    def first(self) -> date:
        """The first day of the year chosen."""
        chosen = self.cleaned_data.get("year") if self.is_valid() else ""
        return date.fromisoformat(chosen or self.fields["year"].choices[0][0])  # type: ignore[attr-defined]
