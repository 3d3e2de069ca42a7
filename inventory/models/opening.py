"""The link by which the first administrator opens a new installation."""

from __future__ import annotations

from django.db import models


class OpeningLink(models.Model):
    """A link printed where the server was started. Only the hash of its token is kept; it opens once."""

    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"made {self.made_at:%Y-%m-%d %H:%M}"
