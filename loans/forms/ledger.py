"""What is entered in a family's account, and the filters of its lists."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from core.models import User
from core.money import dollars
from core.passwords import LONGEST
from inventory.models import School
from loans.forms.mistakes import DAY
from loans.models import LedgerEntryQuerySet
from loans.models.ledger import PAID_BY_LABELS, SORT_LABELS
from loans.rules.due import school_year_words
from loans.rules.ledger import LEAST, MOST, Sort
from loans.selectors.ledger import asks_password, password_above

BALANCES = (("owes", _("Owes")), ("ahead", _("Paid ahead")), ("all", _("All accounts")))


def amount_field(*, label: Any, required: bool = True, least: Decimal = LEAST, **more: Any) -> forms.DecimalField:
    """Return a field for dollars and cents, as the ledger takes them."""
    return forms.DecimalField(
        label=label,
        required=required,
        min_value=least,
        max_value=MOST,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "0.01"}),
        **more,
    )


WAIVER_YEARS = 4  # school years that a waiver may stand for; then somebody approves it again


class EntryForm(OnceForm):
    """A fee, a payment, a refund or a waiver: what it asks for hangs on which."""

    field_order = ("amount", "by", "note", "approved_by", "password", "through", "on")

    amount = amount_field(label=_("Amount"))
    on = forms.DateField(label=_("Date"), widget=DAY)

    def __init__(
        self, *args: Any, sort: Sort, approvers: QuerySet[User], asker: User, year: int, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.asker = asker
        text = {"autocomplete": "off"}
        if sort is Sort.FEE:
            self.fields["note"] = forms.CharField(
                label=_("What for"),
                max_length=200,
                help_text=_("As the family will see it, such as Instrument fee 2026–27."),
                widget=forms.TextInput(attrs=text),
            )
        elif sort in {Sort.PAYMENT, Sort.REFUND}:
            self.fields["by"] = forms.ChoiceField(
                label=_("How"), choices=list(PAID_BY_LABELS.items()), widget=forms.RadioSelect, initial="cash"
            )
            self.fields["note"] = forms.CharField(
                label=_("Check number or note"), required=False, max_length=200, widget=forms.TextInput(attrs=text)
            )
        else:
            words = _("How much of what the family owes is waived. Leave it blank to waive future yearly fees only.")
            self.fields["amount"] = amount_field(label=_("Amount"), required=False, least=Decimal(0), help_text=words)
            self.fields["approved_by"] = forms.ModelChoiceField(
                queryset=approvers,
                label=_("Approved by"),
                empty_label=_("Choose"),
                help_text=_("The name is kept; the reason is not."),
            )
            self.fields["password"] = forms.CharField(
                label=_("The approver's password"),
                required=False,
                max_length=LONGEST,
                strip=False,
                help_text=gettext("Required above %(limit)s. The approver types it here.")
                % {"limit": dollars(password_above())},
                widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
            )
            later = [
                (str(end), gettext("And the yearly fee through %(year)s") % {"year": school_year_words(end)})
                for end in range(year, year + WAIVER_YEARS)
            ]
            self.fields["through"] = forms.TypedChoiceField(
                label=_("What is waived"),
                required=False,
                coerce=int,
                empty_value=None,
                choices=[("", gettext("This amount only")), *later],
            )
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if "through" in self.fields and "amount" in data and not data["amount"]:
            data["amount"] = Decimal(0)
            if not data.get("through"):
                self.add_error(
                    "amount", gettext("Enter an amount, or choose below through which year the fee is waived.")
                )
        approver, amount = data.get("approved_by"), data.get("amount")
        self.asks_password = (
            approver is not None and amount is not None and asks_password(amount, approver=approver, asker=self.asker)
        )
        if self.asks_password:
            self.fields["password"].required = True  # so the page does not call it optional
        if self.asks_password and not data.get("password"):
            words = gettext("To approve this, %(name)s types their own password here.")
            self.add_error("password", words % {"name": approver})
        return data


class YearlyFeeForm(OnceForm):
    """The same fee for all who borrow at a school. ``counts`` are how many of a school are to charge and waived."""

    field_order = ("school", "amount", "note", "on")

    school = forms.ChoiceField(label=_("Whom"), widget=forms.RadioSelect)  # wraps on a phone, where a list is cut
    amount = amount_field(label=_("Amount"))
    note = forms.CharField(
        label=_("What for"),
        max_length=200,
        help_text=_("As the family will see it, such as Instrument fee 2026–27."),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    on = forms.DateField(label=_("Date"), widget=DAY)

    def __init__(self, *args: Any, counts: Mapping[School, tuple[int, int]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.schools = {str(school.pk): school for school in counts}
        words = gettext("%(school)s: %(count)d to charge, %(waived)d waived")
        choices = [
            (str(school.pk), words % {"school": school.name, "count": count, "waived": waived})
            for school, (count, waived) in counts.items()
        ]
        set_choices(self, "school", choices)
        if len(choices) == 1:
            self.fields["school"].initial = choices[0][0]

    def chosen_school(self) -> School:
        return self.schools[self.cleaned_data["school"]]


class ReversalForm(OnceForm):
    because = forms.CharField(
        label=_("What was wrong?"),
        max_length=200,
        error_messages={"required": _("Say in a few words what was wrong.")},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class BalanceFilterForm(forms.Form):
    """Unknown values are ignored, so that an old link still shows a list."""

    q = forms.CharField(
        required=False,
        label=_("Student or guardian"),
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search"}),
    )
    state = forms.ChoiceField(required=False, choices=BALANCES, label=_("Show"))

    def narrow(self, rows: Any) -> Any:
        """Apply the filters to students as ``with_balances`` reads them."""
        self.is_valid()
        match self.cleaned_data.get("state") or "owes":
            case "owes":
                rows = rows.filter(owed__gt=0)
            case "ahead":
                rows = rows.filter(owed__lt=0)
        text = (self.cleaned_data.get("q") or "").strip()
        return rows.search(text) if text else rows


class JournalForm(forms.Form):
    """Between which days, and what."""

    first = forms.DateField(required=False, label=_("From"), widget=DAY)
    last = forms.DateField(required=False, label=pgettext_lazy("date", "To"), widget=DAY)
    sort = forms.ChoiceField(required=False, label=_("What"))
    school = forms.ModelChoiceField(
        label=_("School"), required=False, queryset=School.objects.none(), empty_label=_("All schools")
    )

    def __init__(self, *args: Any, schools: QuerySet[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "sort", [("", gettext("Everything")), *SORT_LABELS.items()])
        if schools.count() < 2:
            del self.fields["school"]
        else:
            set_queryset(self, "school", schools)

    def narrow(self, rows: LedgerEntryQuerySet) -> LedgerEntryQuerySet:
        self.is_valid()
        data: dict[str, Any] = self.cleaned_data
        first: date | None = data.get("first")
        last: date | None = data.get("last")
        if first:
            rows = rows.filter(on__gte=first)
        if last:
            rows = rows.filter(on__lte=last)
        if data.get("sort"):
            rows = rows.filter(sort=data["sort"])
        if data.get("school"):
            rows = rows.filter(school=data["school"])
        return rows
