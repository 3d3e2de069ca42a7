"""A bench's profile."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm, set_choices, set_queryset
from inventory.catalog.figures import BENCH_RATE
from inventory.catalog.load import catalog
from inventory.catalog.schema import Skill
from inventory.models import School

PHASES = {
    1: _("Intake"), 2: _("Freeing what is stuck"), 3: _("Taking apart"), 4: _("Cleaning"), 5: _("Solder"), 6: _("Dents and alignment"),
    7: _("Pads, corks, springs"), 8: _("Oil and set-up"), 9: _("Testing"),
}  # fmt: skip


class BenchForm(forms.Form):
    """What is at the bench, what its people are trained for, what is allowed there."""

    name = forms.CharField(max_length=80, label=_("Name"))
    rate_amount = forms.DecimalField(
        label=_("Its own rate per hour"),
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(999),
        max_digits=6,
        decimal_places=2,
    )
    has_torch = forms.BooleanField(
        required=False,
        label=_("A torch is allowed here"),
        help_text=_("Local fire code and district policy decide this."),
    )
    has_chemicals = forms.BooleanField(
        required=False,
        label=_("Chemicals are allowed here"),
        help_text=_("Acids, strippers and solvents, with ventilation and safety data sheets at hand."),
    )
    tools = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label=_("Tools"))
    methods = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label=_("Trained for"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["rate_amount"].help_text = gettext(
            "Plans are priced with it. Leave it empty to use the district's rate under Setup, %(said)s now."
        ) % {"said": catalog().setting_notes[BENCH_RATE].in_words}
        set_choices(self, "tools", [pair for _, group in tool_groups() for pair in group])
        set_choices(self, "methods", [pair for _, group in method_groups() for pair in group])

    def tool_lines(self) -> list[tuple[str, list[dict[str, Any]]]]:
        return _lines(tool_groups(), chosen=self["tools"].value() or [], prefix="tool")

    def method_lines(self) -> list[tuple[str, list[dict[str, Any]]]]:
        return _lines(method_groups(), chosen=self["methods"].value() or [], prefix="method")


class NewBenchForm(OnceForm, BenchForm):
    school = forms.ModelChoiceField(queryset=School.objects.none(), empty_label=None, label=_("School"))
    code = forms.CharField(
        max_length=20,
        label=_("Short name"),
        validators=[RegexValidator(r"^[a-z0-9-]+$", _("Lowercase letters, digits and hyphens only."))],
        help_text=_("For lists and addresses, for example north-shop. It cannot be changed later."),
    )
    field_order = ("school", "code", "name")

    def __init__(self, *args: Any, schools: Any, **kwargs: Any) -> None:
        """A new bench begins with the tools of a first school bench and goes by the district's rate."""
        super().__init__(*args, **kwargs)
        set_queryset(self, "school", schools)
        self.fields["tools"].initial = [code for code, tool in catalog().tools.items() if tool.starter]


def tool_groups() -> list[tuple[str, list[tuple[str, str]]]]:
    """A first bench's tools, then the others; each by name."""
    tools = sorted(catalog().tools.values(), key=lambda tool: tool.name.lower())
    first = [(tool.code, tool.name) for tool in tools if tool.starter]
    rest = [(tool.code, tool.name) for tool in tools if not tool.starter]
    return [(gettext("A first bench"), first), (gettext("Added as the work needs it"), rest)]


def method_groups() -> list[tuple[str, list[tuple[str, str]]]]:
    """What needs training: advanced methods by phase, ladders, specialist work. Basic methods need no entry."""
    groups: dict[str, list[tuple[str, str]]] = {}
    specialist: list[tuple[str, str]] = []
    for method in sorted(catalog().methods.values(), key=lambda one: (one.phase, one.name)):
        if method.ladder:
            groups.setdefault(gettext("Freeing stuck parts, beyond the gentle ways"), []).append(
                (method.code, method.name)
            )
        elif method.skill is Skill.ADVANCED:
            groups.setdefault(str(PHASES.get(method.phase, _("Other work"))), []).append((method.code, method.name))
        elif method.skill is Skill.SPECIALIST:
            specialist.append((method.code, method.name))
    return [*groups.items(), *([(gettext("Specialist work"), specialist)] if specialist else [])]


def _lines(
    groups: list[tuple[str, list[tuple[str, str]]]], *, chosen: list[str], prefix: str
) -> list[tuple[str, list[dict[str, Any]]]]:
    return [
        (title, [{"code": c, "name": n, "id": f"{prefix}_{c}", "is_chosen": c in chosen} for c, n in group])
        for title, group in groups
    ]
