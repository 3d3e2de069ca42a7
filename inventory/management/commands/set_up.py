"""Sets up a new installation: the district, and an administrator who does the rest in the browser."""

from __future__ import annotations

import sys
from datetime import datetime
from getpass import getpass
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.utils import timezone

from core.acts import service
from core.management.writing import WritingCommand
from core.models import User
from core.services.accounts import recover_password
from core.services.second_steps import reset_second_step
from inventory.exceptions import RefusedError
from inventory.models import District, Role
from inventory.services.people import add_person, give_role, set_active, set_up_district

REFUSED = 2


class Command(WritingCommand):
    help = (
        "Name the district and add an administrator; the rest is done in the browser. For an existing user it sets"
        " a new password, removes the second step, activates the account and gives the role. Exit status 2 when refused, with the reason."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--district", default="", help="the district's name; needed the first time")
        parser.add_argument("--administrator", required=True, help="the user name")
        parser.add_argument("--name", default="", help="the person's name; needed for a new user")
        parser.add_argument("--password-stdin", action="store_true", help="read the password from standard input")

    def handle(self, *_args: Any, **options: Any) -> None:
        if not options["district"] and not District.objects.exists():
            raise CommandError("Name the district: --district NAME.", returncode=REFUSED)
        known = User.objects.filter(username__iexact=options["administrator"].strip()).first()
        if known is None and not options["name"].strip():
            raise CommandError("Name the person: --name NAME.", returncode=REFUSED)
        password = self.password(is_piped=options["password_stdin"])
        try:
            person = self.save(password=password, options=options, actor=known, at=timezone.now())
        except RefusedError as error:
            raise CommandError(str(error), returncode=REFUSED) from error
        self.stdout.write(f"{person.username} administers {District.objects.get().name}. Log in and add the schools.")

    def password(self, *, is_piped: bool) -> str:
        if is_piped:
            return sys.stdin.readline().rstrip("\r\n")
        typed = getpass("Password (at least 12 characters): ")
        if typed != getpass("Once more: "):
            raise CommandError("The two passwords differ; nothing was written.", returncode=REFUSED)
        return typed

    @service
    def save(self, *, password: str, options: dict[str, Any], actor: User | None, at: datetime) -> User:
        """Set up everything or nothing. ``actor`` is the log-in that exists already, or None.

        An empty password is refused.
        """
        if not password:
            raise RefusedError("Enter a password.")
        if options["district"]:
            set_up_district(actor=actor, at=at, name=options["district"])
        if actor is None:
            person = add_person(
                username=options["administrator"], name=options["name"], password=password, actor=None, at=at
            )
        else:
            person = actor
            recover_password(user=person, password=password, actor=person, at=at)
            reset_second_step(user=person, actor=person, at=at)
            set_active(user=person, is_active=True, actor=person, at=at)
        give_role(user=person, role=Role.ADMINISTRATOR, actor=actor, at=at)
        return person
