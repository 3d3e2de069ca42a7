"""Photos, shown only to those who may see the instrument; never by the address of a file."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.photos import PhotoRefusedError, clean_photo
from core.views import StaffRequest, StaffView, row_or_404
from inventory.forms.photos import PhotoForm
from inventory.models import Instrument, Photo
from inventory.services.care import keep_photo
from inventory.views.rows import instrument_for


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


class PhotosView(StaffView):
    """All photos of an instrument, and a new one."""

    permission_required = "inventory.inspect_instrument"

    def shown(
        self, request: StaffRequest, instrument: Instrument, form: PhotoForm, *, status: int = 200
    ) -> HttpResponse:
        context: dict[str, Any] = {"instrument": instrument, "photos": instrument.photos.all()[:200], "form": form}
        return render(request, "inventory/photos.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        return self.shown(request, instrument_for(request, asset_number, self.permission_required), PhotoForm())

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        form = PhotoForm(request.POST, request.FILES)
        if form.is_valid():
            try:
                photo = clean_photo(form.cleaned_data["photo"], max_bytes=settings.PHOTO_MAX_BYTES)
            except PhotoRefusedError as error:
                form.add_error("photo", str(error))
            else:
                keep_photo(
                    instrument=instrument,
                    photo=photo,
                    actor=request.user,
                    at=timezone.now(),
                    caption=form.cleaned_data["caption"],
                )
                messages.success(request, gettext("Photo saved."))
                return redirect("inventory:photos", instrument.asset_number)
        return self.shown(request, instrument, form, status=422)
