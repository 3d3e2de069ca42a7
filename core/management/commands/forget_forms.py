"""``manage.py forget_forms`` deletes the keys of forms posted long ago. For a nightly run."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from core.acts import KEPT_FOR, forget_old_forms
from core.management.writing import WritingCommand


class Command(WritingCommand):
    help = (
        f"Delete the keys of forms posted more than {KEPT_FOR.days} days ago. They only make a form count once that is "
        "posted twice."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        self.stdout.write(f"Keys of posted forms deleted: {forget_old_forms(at=timezone.now())}.")
