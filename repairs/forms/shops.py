"""A shop as it is typed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from repairs.forms.fields import PLAIN, words
from repairs.models import Shop


class ShopForm(forms.Form):
    name = forms.CharField(max_length=120, label=_("Name"), widget=PLAIN)
    contact = forms.CharField(max_length=200, required=False, label=_("Who to call"), widget=PLAIN)
    address = forms.CharField(label=_("Address"), max_length=300, required=False, widget=PLAIN)
    note = words(_("Note"), required=False, rows=3, help_text=_("What they are good at, the account number."))


class NewShopForm(OnceForm, ShopForm):
    pass


class ShopChangeForm(ShopForm):
    is_used = forms.BooleanField(required=False, label=_("Still used"))

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(shop, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
