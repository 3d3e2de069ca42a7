"""How an instrument leaves the fleet, goes to another school, or is of another kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from core.models import User
from core.money import dollars
from core.passwords import LONGEST
from core.photos import CleanScan, PhotoRefusedError, clean_scan
from inventory.catalog.load import catalog
from inventory.models import Accessory, Disposal, Instrument, School
from inventory.rules.leaving import PAID, Way, amount_at_stake
from inventory.selectors.leaving import (
    FederalTerms,
    amount_to_approve,
    approvers_of,
    asks_password,
    large_above,
    password_above,
)
from loans.forms.ledger import amount_field
from loans.forms.mistakes import DAY

OFF = {"autocomplete": "off"}
ABOUT_LOSS = ("police_agency", "police_number", "insurer", "claim_number", "findings", "agency_notified_on")
MOST_OF_ONE = 20


def typed(label: Any, length: int, *, rows: int = 0, required: bool = False, **more: Any) -> forms.CharField:
    widget: forms.Widget = forms.Textarea(attrs={"rows": rows}) if rows else forms.TextInput(attrs=OFF)
    return forms.CharField(label=label, max_length=length, required=required, widget=widget, **more)


class ScanField(forms.FileField):
    """A photo or a PDF, checked by its content."""

    widget = forms.ClearableFileInput(attrs={"accept": "application/pdf,image/*"})

    def clean(self, data: Any, initial: Any = None) -> CleanScan | None:
        sent = super().clean(data, initial)
        try:
            return clean_scan(sent) if sent else None
        except PhotoRefusedError as error:
            raise forms.ValidationError(str(error)) from None


class LossFieldsForm(OnceForm):
    """What is found out about a loss or theft."""

    police_agency = typed(_("Police agency"), 80)
    police_number = typed(_("Report number"), 40)
    insurer = typed(_("Insurer"), 80)
    claim_number = typed(_("Claim number"), 40)
    findings = typed(
        _("What the investigation found"), 4000, rows=4, help_text=_("Please do not include students' names.")
    )
    agency_notified_on = forms.DateField(
        required=False,
        label=_("Awarding agency notified on"),
        help_text=_("For what a federal award paid for, if the loss affects the program."),
        widget=DAY,
    )


class ApprovedForm(LossFieldsForm):
    """What somebody approves, above a limit with their own password."""

    approved_by = forms.ModelChoiceField(queryset=User.objects.none(), label=_("Approved by"), empty_label=_("Choose"))
    password = forms.CharField(
        label=_("The approver's password"),
        required=False,
        max_length=LONGEST,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "off"}),
    )
    asks_password = False
    school_id: int
    asker: User

    def offer_approvers(self, *, school_id: int, asker: User, least: Decimal = Decimal(0)) -> None:
        """Offer who may approve at least this amount; of what was sent, ``clean_approver`` says why somebody may not."""
        self.school_id, self.asker = school_id, asker
        people = approvers_of(school_id, amount=Decimal(0) if self.is_bound else least, but_for=asker)
        set_queryset(self, "approved_by", people)
        words = gettext("Required above %(limit)s. The approver types it here.")
        self.fields["password"].help_text = words % {"limit": dollars(password_above())}
        words = gettext("Above %(limit)s, somebody at the district must approve.")
        self.fields["approved_by"].help_text = words % {"limit": dollars(large_above())}
        if not self.is_bound and not people.exists():
            self.fields["approved_by"].help_text = self.nobody_words(least)

    def nobody_words(self, amount: Decimal) -> str:
        """Say who has to record it where nobody may approve what this person records."""
        words = gettext(
            "Nobody else may approve %(amount)s, and you may not approve what you record yourself. Have somebody else "
            "record it: you can then approve it with your password."
        )
        if not approvers_of(self.school_id, amount=amount).filter(pk=self.asker.pk).exists():
            words = gettext("Nobody may approve %(amount)s yet. It takes an administrator of the district.")
        return words % {"amount": dollars(amount)}

    def clean_approver(self, data: dict[str, Any], *, amount: Decimal) -> None:
        approver, people = data.get("approved_by"), approvers_of(self.school_id, amount=amount, but_for=self.asker)
        set_queryset(self, "approved_by", people)
        self.asks_password = approver is not None and asks_password(amount, approver=approver, asker=self.asker)
        if approver is None and not people.exists():
            self.add_error("approved_by", self.nobody_words(amount))
        if approver is None:
            return
        if approver not in people:
            words = gettext("%(amount)s is above what %(name)s may approve. Choose somebody at the district.")
            said = words % {"amount": dollars(amount), "name": approver}
            self.add_error("approved_by", said if people.exists() else self.nobody_words(amount))
        elif self.asks_password and not data.get("password"):
            words = gettext("To approve this, %(name)s types their own password here.")
            self.add_error("password", words % {"name": approver})

    def columns(self) -> dict[str, Any]:
        """Return what the service takes."""
        data = {name: value for name, value in self.cleaned_data.items() if name != "password"}
        return data | {"is_confirmed": self.asks_password}


class LeaveForm(ApprovedForm):
    """How it left, when, for what, and who approved it."""

    way = forms.ChoiceField(choices=Disposal.Ways.choices, label=_("What happened to it?"), widget=forms.RadioSelect)
    on = forms.DateField(label=_("Date"), widget=DAY)
    because = typed(_("Why"), 400, required=True)
    recipient = typed(_("Who has it now"), 120, help_text=_("The buyer, dealer, school or scrap yard."))
    proceeds_amount = amount_field(
        label=_("Proceeds"),
        required=False,
        least=Decimal(0),
        help_text=_("What was paid or credited for it. Required for a sale or trade-in."),
    )
    market_amount = amount_field(
        label=_("Fair market value"),
        required=False,
        least=Decimal(0),
        help_text=_("Required: a federal award paid for it. What a buyer would pay for it today."),
    )
    keeps_handling = forms.BooleanField(
        required=False, label=_("The awarding agency lets us keep selling and handling costs from its share")
    )
    scan = ScanField(required=False, label=_("Paper"), help_text=_("A bill of sale, receipt or police report."))

    SEEN = (
        "way", "on", "because", "recipient", "proceeds_amount", "market_amount", "keeps_handling", "approved_by",
        "password", "scan", "nonce",
    )  # fmt: skip

    def __init__(
        self, *args: Any, instrument: Instrument, value: Decimal, terms: FederalTerms | None, asker: User, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.value = value
        self.offer_approvers(school_id=instrument.school_id, asker=asker, least=value)
        if terms is None:
            del self.fields["market_amount"]
        if terms is None or not terms.is_equipment:
            del self.fields["keeps_handling"]

    @property
    def seen(self) -> list[forms.BoundField]:
        return [self[name] for name in self.SEEN if name in self.fields]

    @property
    def folded(self) -> list[forms.BoundField]:
        return [self[name] for name in ABOUT_LOSS]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        way = data.get("way", "")
        if way in PAID and data.get("proceeds_amount") is None and "proceeds_amount" not in self.errors:
            self.add_error("proceeds_amount", gettext("Enter what was paid or credited for it, $0 if nothing was."))
        if way and way not in PAID and data.get("proceeds_amount"):
            self.add_error("proceeds_amount", gettext("Proceeds are for what was sold or traded in."))
        if "market_amount" in self.fields and way != Way.ERROR and data.get("market_amount") is None:
            self.add_error("market_amount", gettext("A federal award paid for it. Enter its fair market value."))
        amount = amount_at_stake([self.value, data.get("proceeds_amount"), data.get("market_amount")])
        self.clean_approver(data, amount=amount)
        return data


class ChangeDisposalForm(ApprovedForm):
    """What became known later; other proceeds may have to be approved again."""

    field_order = ("recipient", "proceeds_amount", "approved_by", "password", *ABOUT_LOSS)

    recipient = typed(_("Who has it now"), 120)
    proceeds_amount = amount_field(label=_("Proceeds"), required=False, least=Decimal(0))

    def __init__(self, data: Any = None, *, disposal: Disposal, asker: User) -> None:
        known = ("recipient", "proceeds_amount", *ABOUT_LOSS)
        super().__init__(data, initial={name: getattr(disposal, name) for name in known})
        self.disposal = disposal
        self.offer_approvers(school_id=disposal.instrument.school_id, asker=asker)
        limits = {"limit": dollars(min(password_above(), large_above())), "large": dollars(large_above())}
        words = gettext("Only for proceeds above %(limit)s; above %(large)s, somebody at the district must approve.")
        self.fields["approved_by"].required, self.fields["approved_by"].help_text = False, words % limits
        if disposal.way not in PAID:
            del self.fields["proceeds_amount"], self.fields["approved_by"], self.fields["password"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        amount = amount_to_approve(self.disposal, proceeds=data.get("proceeds_amount"))
        if amount is None:
            return data
        if data.get("approved_by") is None and "approved_by" not in self.errors:
            words = gettext("Somebody has to approve %(amount)s. Choose who approves it.")
            self.add_error("approved_by", words % {"amount": dollars(amount)})
        self.clean_approver(data, amount=amount)
        return data


class BringBackForm(OnceForm):
    """Whether it came back, or never left."""

    how = forms.ChoiceField(
        label=_("What is right?"),
        choices=(("wrong", _("It never left: the entry was wrong")), ("back", _("It left, and it is back"))),
        widget=forms.RadioSelect,
    )
    back_on = forms.DateField(required=False, label=_("Back on"), widget=DAY)
    because = typed(_("Why"), 400, required=True)

    def __init__(self, *args: Any, is_error: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_error:  # there is nothing that could have left
            del self.fields["how"], self.fields["back_on"]


class PaperForm(OnceForm):
    title = typed(_("What it is"), 80, required=True, help_text=_("Bill of sale, invoice, police report."))
    scan = ScanField(label=_("Photo or PDF"))


class WithdrawPaperForm(OnceForm):
    because = typed(_("Why"), 200, required=True, help_text=_("For example: it belongs to another instrument."))


class OfferForm(OnceForm):
    """To which school, and what goes along."""

    to_school = forms.ModelChoiceField(
        queryset=School.objects.none(), label=_("To"), empty_label=_("Choose the school")
    )
    because = typed(_("Why"), 400)

    def __init__(self, *args: Any, instrument: Instrument, accessories: Sequence[Accessory], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "to_school", School.objects.exclude(pk=instrument.school_id))
        self.codes = [one.code for one in accessories]
        for one in accessories:
            there = one.expected if one.present is None else one.present
            self.fields[f"with_{one.code}"] = forms.IntegerField(
                label=str(one)[:1].upper() + str(one)[1:],
                min_value=0,
                max_value=MOST_OF_ONE,
                initial=there,
                required=False,
            )

    @property
    def seen(self) -> list[forms.BoundField]:
        return [self[name] for name in ("nonce", "to_school", "because")]

    @property
    def accessory_fields(self) -> list[forms.BoundField]:
        return [self[f"with_{code}"] for code in self.codes]

    def accessories(self) -> Mapping[str, int]:
        return {code: self.cleaned_data[f"with_{code}"] or 0 for code in self.codes}


class SettleOfferForm(forms.Form):
    """Agree or not; where it goes in the new school."""

    answer = forms.ChoiceField(label=_("Answer"), widget=forms.RadioSelect)
    room_name = typed(_("Room it goes to"), 80)
    note = typed(_("Note"), 200)

    def __init__(self, *args: Any, may_agree: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        answers = [("yes", gettext("Agree: it is our school's from now on")), ("no", gettext("Decline"))]
        set_choices(self, "answer", answers if may_agree else [("no", gettext("Withdraw the offer"))])
        if not may_agree:
            del self.fields["room_name"]
            self.fields["answer"].initial = "no"


class KindForm(OnceForm):
    """What kind it really is."""

    kind_code = forms.ChoiceField(label=_("It is a"))

    def __init__(self, *args: Any, instrument: Instrument, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kinds = sorted((kind.name, code) for code, kind in catalog().kinds.items() if code != instrument.kind_code)
        set_choices(self, "kind_code", [("", gettext("Choose the kind")), *((code, name) for name, code in kinds)])


class OutForm(forms.Form):
    """Which of those that left."""

    way = forms.ChoiceField(required=False, label=_("How"), choices=[("", _("All")), *Disposal.Ways.choices])
    school = forms.ChoiceField(required=False, label=_("School"))
    first = forms.DateField(required=False, label=_("From"), widget=DAY)
    last = forms.DateField(required=False, label=pgettext_lazy("date", "To"), widget=DAY)

    def __init__(self, *args: Any, schools: Sequence[School], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_choices(self, "school", [("", gettext("All")), *((str(one.pk), one.name) for one in schools)])
        if len(schools) < 2:  # one school is no choice
            del self.fields["school"]

    def narrowed(self) -> dict[str, Any]:
        """Return what was chosen; what is not valid does not narrow."""
        if not self.is_bound:
            return {}
        self.is_valid()
        chosen = {name: value for name, value in self.cleaned_data.items() if value}
        if "school" in chosen:
            chosen["school"] = int(chosen["school"])
        return chosen
