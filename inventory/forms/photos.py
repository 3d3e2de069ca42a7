"""A photo with a caption."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label=_("Photo"),
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={
            "required": _("Choose a photo first."),
            "empty": _("The photo is empty. Choose it again."),
        },
        help_text=_("JPEG, PNG, WebP or HEIC. Location, time and camera are removed from it."),
    )
    caption = forms.CharField(label=_("What it shows"), max_length=200, required=False)
