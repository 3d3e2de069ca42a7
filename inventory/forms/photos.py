"""A photo with a word on what it shows."""

from __future__ import annotations

from django import forms


class PhotoForm(forms.Form):
    photo = forms.FileField(
        label="Photo",
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
        error_messages={"required": "Choose a photo first.", "empty": "The photo is empty. Choose it again."},
        help_text="JPEG, PNG, WebP or HEIC. Place, time and camera are taken out of it.",
    )
    caption = forms.CharField(label="What it shows", max_length=200, required=False)
