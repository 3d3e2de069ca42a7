"""What comes in, what stays with the student, which spare goes out, and whether it is signed for at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices
from core.money import dollars
from inventory.models import Instrument, Readiness
from inventory.selectors.prices import replacement_amount
from loans.forms.lending import BENCH, STORE, TakeBackForm
from loans.forms.mistakes import DAY
from loans.forms.signing import LATER, NOW_OR_LATER, SigningFields
from loans.models import Agreement, Loan


class SwapForm(OnceForm, SigningFields, TakeBackForm):
    """``spares`` are the instruments of its kind that may go out, the likeliest first.

    Signed on the screen, or on paper later: nobody has a signed paper for what they did not know would go out.
    """

    scan = None  # type: ignore[assignment]  # takes the field away
    spare = forms.ChoiceField(label=_("Which spare"), error_messages={"required": _("Choose the spare that goes out.")})
    keeps = forms.MultipleChoiceField(required=False, label=_("The student keeps"), widget=forms.CheckboxSelectMultiple)
    limits_reason = forms.CharField(
        required=False, max_length=400, label=_("If the spare has limits, why it goes out anyway")
    )

    due_on = forms.DateField(
        label=_("Due back"), widget=DAY, error_messages={"required": _("Say when the spare is due back.")}
    )

    def __init__(self, *args: Any, loan: Loan, spares: Sequence[Instrument], today: date, **kwargs: Any) -> None:
        super().__init__(*args, loan=loan, **kwargs)
        self.borrower = loan.student
        if loan.due_on >= today:
            del self.fields["due_on"]  # the spare is due on the same day
        ways = [way for way in NOW_OR_LATER if way[0] != Agreement.Signed.PAPER]
        set_choices(self, "signed", ways)
        self.fields["signed"].initial = LATER
        self.spares = {row.asset_number: row for row in spares}
        set_choices(self, "spare", [(number, _spare_words(row)) for number, row in self.spares.items()])
        set_choices(self, "keeps", [(code, name) for code, name, _count in self.wanted])
        self.fields["because"].label = _("What is wrong with it")
        self.fields["to"].choices = (  # type: ignore[attr-defined]
            *(((BENCH, gettext("To the bench")),) if self.benches else ()),
            (STORE, gettext("To storage")),
        )
        self.fields["to"].widget = forms.RadioSelect(choices=self.fields["to"].choices)  # type: ignore[attr-defined]
        self.fields["to"].label = _("Where it goes")
        self.fields["to"].initial = BENCH if self.benches else STORE
        if len(self.benches) == 1:
            self.fields["bench"].initial = self.benches[0][0]

    @property
    def has_guardians(self) -> bool:
        return self.borrower.has_guardians

    @property
    def has_limited(self) -> bool:
        """Whether a spare has limits, so that going out takes a reason."""
        return any(row.readiness == Readiness.WITH_LIMITS for row in self.spares.values())

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("to") == BENCH and not data.get("because"):
            self.add_error("because", gettext("Say what is wrong, for the bench."))
        self.clean_signing(data, borrower=self.borrower)
        return data


def _spare_words(spare: Instrument) -> str:
    """Return the number of a spare, with the value that is signed for and what speaks against it."""
    short = [str(row) for row in spare.accessories.all() if row.is_short]
    words = [spare.asset_number, gettext("value %(amount)s") % {"amount": dollars(replacement_amount(spare))}]
    words += [gettext("with limits")] if spare.readiness == Readiness.WITH_LIMITS else []
    words += [gettext("without: %(names)s") % {"names": ", ".join(short)}] if short else []
    return ", ".join(words)
