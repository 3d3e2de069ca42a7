"""The tags of one instrument and its accessories: see, print, replace, revoke."""

from __future__ import annotations

from typing import Any

from django.utils.safestring import mark_safe
from django.utils.translation import gettext

from core.qr import QrTextError, svg
from core.responses import home_url
from core.views import FormView, row_or_404
from inventory.forms.labels import ReplaceTagForm, RevokeTagForm
from inventory.models import Accessory, Instrument, Tag
from inventory.selectors.labels import tag_history
from inventory.services.registering import issue_tag, revoke_tag
from inventory.views.rows import InstrumentFormView, instrument_for

MANAGE = "inventory.manage_tags"


def drawing(tag: Tag, *, address: str) -> str:
    """The tag's code as SVG; nothing where the address cannot become one."""
    try:
        code = svg(
            tag.address(home=address), label=gettext("QR code of %(number)s") % {"number": tag.instrument.asset_number}
        )
    except QrTextError:
        return ""
    return mark_safe(code)  # noqa: S308  # numbers of ours, and a label escaped there


class TagsView(InstrumentFormView):
    """Tags in use with their codes, accessories without one, and tags of the past."""

    permission_required = MANAGE
    template_name = "inventory/tags.html"
    form_class = ReplaceTagForm
    http_method_names = ["get", "head"]

    def context(self, row: Instrument, form: ReplaceTagForm) -> dict[str, Any]:
        tags = list(tag_history(row))
        live = sorted((tag for tag in tags if tag.revoked_at is None), key=lambda tag: tag.accessory_id or 0)
        tagged = {tag.accessory_id for tag in live}
        return {
            "live": [(tag, drawing(tag, address=home_url(self.request))) for tag in live],
            "is_tagged": None in tagged,
            "taggable": [one for one in row.accessories.all() if one.pk not in tagged],
            "past": [tag for tag in tags if tag.revoked_at is not None],
        }


class IssueTagView(TagsView):
    """A new tag for the instrument, or for the accessory named; the one it had stops working."""

    permission_required = MANAGE
    http_method_names = ["post"]

    def save(self, row: Instrument, form: ReplaceTagForm) -> str:
        named = self.request.POST.get("accessory", "")
        accessory = row_or_404(Accessory.objects.filter(instrument=row), pk=named) if named else None
        issue_tag(instrument=row, accessory=accessory, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("New tag made. Print its label; the old tag no longer works.")
        return self.done(words, "inventory:tags", row.asset_number)


class RevokeTagView(FormView):
    """Ask why, then revoke the tag."""

    permission_required = MANAGE
    template_name = "inventory/tags_revoke.html"
    row_name = "tag"
    form_class = RevokeTagForm

    def row(self, **lookup: Any) -> Tag:
        instrument = instrument_for(self.request, lookup["asset_number"], self.permission_required)
        tags = Tag.objects.filter(instrument=instrument).select_related("accessory", "instrument")
        return row_or_404(tags, pk=lookup["pk"])

    def save(self, row: Tag, form: RevokeTagForm) -> str:
        revoke_tag(tag=row, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("Tag revoked. Anyone who scans it sees that.")
        return self.done(words, "inventory:tags", row.instrument.asset_number)
