"""Records to be matched: people of an imported list, an instrument registered twice."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any, Self

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.day_bounds import RECORDED
from core.days import full_day
from core.models import User
from desk.selectors.listed import Named, Person, people_in
from desk.services.listed import NEW, NEW_GROUP, NEW_STAFF, NOBODY, Lent
from inventory.catalog.load import catalog
from inventory.models import ImportBatch, Instrument, InstrumentQuerySet
from inventory.services.importing import Vouched
from loans.forms.mistakes import DAY
from loans.models import Student
from loans.rules.due import end_of_school_year, school_year_ends

MOST_CHOICES = 700  # people who are each asked about on one page: a form is sent with no more than a thousand fields


class ListedForm(forms.Form):
    """Who has what of an imported list, and what whoever confirms it vouches for."""

    since = forms.DateField(
        label=_("Out since"),
        help_text=_("For the rows that do not say."),
        widget=DAY,
        error_messages={"required": _("Enter the date the instruments went out.")},
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
            if person.is_asked or len(people) <= MOST_CHOICES:
                self.fields[person.key] = self._who(person)

    @classmethod
    def of(cls, batch: ImportBatch, *, user: User, today: date, data: Mapping[str, Any] | None = None) -> Self:
        settings = catalog().settings
        return cls(
            data,
            named=people_in(batch, user=user),
            today=today,
            due_on=end_of_school_year(today=today, ends=school_year_ends(settings)),
            trusted_until=today + timedelta(days=int(settings["trust_days"])),
        )

    def _who(self, person: Person) -> forms.ChoiceField:
        new = gettext("New student: %(name)s, grade %(grade)s") % {"name": person.name, "grade": person.kept_grade}
        students = [(str(one.pk), f"{one.name}, {gettext('grade')} {one.grade}") for one in person.students]
        staff = gettext("New member of staff: %(name)s") % {"name": person.name}
        group = gettext("New group or other school: %(name)s") % {"name": person.name}
        nobody = gettext("Nobody: it stays in storage")
        choices = [*students, (NEW, new), (NEW_STAFF, staff), (NEW_GROUP, group), (NOBODY, nobody)]
        things = ", ".join(" ".join(filter(None, (one.number, one.kind))) for one in person.out)
        return forms.ChoiceField(
            label=f"{person.name}: {things}",
            choices=[("", gettext("Choose")), *choices] if person.match.is_asked else choices,
            initial=_usual(person),
            error_messages={"required": gettext("Choose who this is.")},
        )

    def clean_cleaned_on(self) -> date | None:
        day: date | None = self.cleaned_data["cleaned_on"]
        if refusal := RECORDED.refusal(day, today=self.today):
            raise forms.ValidationError(refusal)
        return day

    @property
    def lent(self) -> Lent:
        data = self.cleaned_data
        return Lent(self.people, self.who(), data.get("since"), data["due_on"], data["signed"] == "elsewhere")

    @property
    def vouched(self) -> Vouched:
        data = self.cleaned_data
        trusted_until = self.trusted_until if data["is_trusted"] else None
        return Vouched(trusted_until=trusted_until, cleaned_on=data["cleaned_on"], cleaned_by=data["cleaned_by"])

    def answers(self) -> dict[str, str]:
        """Keys, codes and days of what was sent, from which the same form is made again; who cleaned it is typed."""
        return {name: self.data[name] for name in self.fields if name in self.data and name != "cleaned_by"}

    def who(self) -> dict[str, Student | str]:
        """Each person's key to a student, NEW or NOBODY."""
        chosen: dict[str, Student | str] = {}
        for person in self.people:
            choice = self.cleaned_data.get(person.key) or _usual(person)
            by_key = {str(one.pk): one for one in person.students}
            chosen[person.key] = by_key.get(choice, choice)
        return chosen


def _usual(person: Person) -> str:
    """Who somebody of the list is where nobody says otherwise; "" where that is asked."""
    if person.match.is_asked:
        return ""
    if person.match.exact:
        return str(person.match.exact[0])
    return NEW_STAFF if person.is_adult else NEW


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
