"""Photos, shown only to those who may see the instrument; never by the address of a file."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, row_or_404
from inventory.forms.care import PhotoForm
from inventory.models import Instrument, Photo
from inventory.services.care import keep_photo
from inventory.views.rows import InstrumentFormView

MOST_SHOWN = 200


class PhotoView(StaffView):
    """The picture itself, "full" or "small"."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, pk: int, size: str) -> HttpResponse:
        if size not in {"full", "small"}:
            raise Http404("no such size")
        photo = row_or_404(Photo.objects.visible_to(request.user), pk=pk)
        try:
            with (photo.image if size == "full" else photo.small).open("rb") as file:
                content = file.read()
        except FileNotFoundError:
            raise Http404("the picture is not in the store") from None
        # The content of an address never changes, but the next person at this browser may not be allowed to see it.
        headers = {"Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"}
        return HttpResponse(content, content_type="image/jpeg", headers=headers)


class PhotosView(InstrumentFormView):
    """All photos of an instrument, and a new one."""

    permission_required = "inventory.inspect_instrument"
    template_name = "inventory/photos.html"
    form_class = PhotoForm

    def context(self, row: Instrument, form: PhotoForm) -> dict[str, Any]:
        return {"photos": row.photos.all()[:MOST_SHOWN]}

    def save(self, row: Instrument, form: PhotoForm) -> str:
        keep_photo(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Photo saved."), "inventory:photos", row.asset_number)
