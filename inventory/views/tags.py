"""The tags of one instrument and its accessories: see, print, replace, revoke."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.translation import gettext

from core.qr import QrTextError, svg
from core.responses import home_url
from core.views import StaffRequest, StaffView, row_or_404
from inventory.forms.labels import ReplaceTagForm, RevokeTagForm
from inventory.models import Accessory, Instrument, Tag
from inventory.selectors.labels import tag_history
from inventory.services.registering import issue_tag, revoke_tag
from inventory.views.rows import instrument_for


def drawing(tag: Tag, *, address: str) -> str:
    """The tag's code as SVG; nothing where the address cannot become one."""
    try:
        code = svg(
            tag.address(home=address), label=gettext("QR code of %(number)s") % {"number": tag.instrument.asset_number}
        )
    except QrTextError:
        return ""
    return mark_safe(code)  # noqa: S308  # numbers of ours, and a label escaped there


class OneInstrumentTagsView(StaffView):
    permission_required = "inventory.manage_tags"

    def instrument(self, asset_number: str) -> Instrument:
        return instrument_for(self.request, asset_number, self.permission_required)

    def back(self, instrument: Instrument, message: str) -> HttpResponse:
        messages.success(self.request, message)
        return redirect("inventory:tags", instrument.asset_number)


class TagsView(OneInstrumentTagsView):
    """Tags in use with their codes, accessories without one, and tags of the past."""

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        tags = list(tag_history(instrument))
        live = [tag for tag in tags if tag.revoked_at is None]
        address = home_url(request)
        tagged = {tag.accessory_id for tag in live}
        context: dict[str, Any] = {
            "instrument": instrument,
            "shown": [self.shown(tag, address) for tag in sorted(live, key=lambda tag: tag.accessory_id or 0)],
            "is_tagged": None in tagged,
            "taggable": [row for row in instrument.accessories.all() if row.pk not in tagged],
            "past": [tag for tag in tags if tag.revoked_at is not None],
            "replace_form": ReplaceTagForm(),
        }
        return render(request, "inventory/tags.html", context)

    def shown(self, tag: Tag, address: str) -> dict[str, Any]:
        return {
            "tag": tag,
            "svg": drawing(tag, address=address),
            "words": " ".join(tag.token[start : start + 4] for start in range(0, len(tag.token), 4)),
            "print_url": f"{reverse('inventory:labels')}?tag={tag.pk}",
        }


class IssueTagView(OneInstrumentTagsView):
    """A new tag for the instrument, or for the accessory named; the one it had stops working."""

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        form = ReplaceTagForm(request.POST)
        given = form.cleaned_data if form.is_valid() else {}
        named = request.POST.get("accessory", "")
        accessory = row_or_404(Accessory.objects.filter(instrument=instrument), pk=named) if named else None
        issue_tag(
            instrument=instrument,
            accessory=accessory,
            actor=request.user,
            at=timezone.now(),
            because=given.get("because", ""),
            nonce=given.get("nonce"),
        )
        return self.back(instrument, gettext("New tag made. Print its label; the old tag no longer works."))


class RevokeTagView(OneInstrumentTagsView):
    """Ask why, then revoke the tag."""

    def tag(self, instrument: Instrument, pk: int) -> Tag:
        return row_or_404(Tag.objects.filter(instrument=instrument).select_related("accessory", "instrument"), pk=pk)

    def shown(self, tag: Tag, form: RevokeTagForm, *, status: int = 200) -> HttpResponse:
        context = {"instrument": tag.instrument, "tag": tag, "form": form}
        return render(self.request, "inventory/tags_revoke.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str, pk: int) -> HttpResponse:
        return self.shown(self.tag(self.instrument(asset_number), pk), RevokeTagForm())

    def post(self, request: StaffRequest, asset_number: str, pk: int) -> HttpResponse:
        instrument = self.instrument(asset_number)
        tag, form = self.tag(instrument, pk), RevokeTagForm(request.POST)
        if not form.is_valid():
            return self.shown(tag, form, status=422)
        revoke_tag(tag=tag, actor=request.user, at=timezone.now(), because=form.cleaned_data["because"])
        return self.back(instrument, gettext("Tag revoked. Anyone who scans it sees that."))
