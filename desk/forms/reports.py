"""What is reported of an instrument, or of an entry of the log, and what is done about it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_queryset
from inventory.models import Instrument
from loans.forms.mistakes import DAY
from repairs.models import Bench


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


class ReportToFamilyForm(OnceForm):
    """What the family of a lent instrument is told about a report."""

    bring_on = forms.DateField(required=False, label=_("Bring it in on"), widget=DAY)
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
