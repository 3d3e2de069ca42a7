"""``manage.py restore PATH``: puts a backup where there is no database yet, all of it or nothing."""

from __future__ import annotations

import shutil
import tempfile
from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import Error
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from core.backups import Manifest, Opener, check_backup, load_database, place_problem, placed_files, unpack
from core.erasures import Erasure, erased_since, list_path, noted_erasures
from core.exceptions import BackupError
from core.hooks import enter_all
from loans.services.erased_again import erase_again

UNFINISHED = ".restoring-"


class Command(BaseCommand):
    help = (
        "Put a backup where there is no database yet: checked whole before anything is written, all of it or nothing. "
        "Then erase again what was erased after it, and verify. Exits 2 when nothing was restored."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", type=Path)
        parser.add_argument("--key", type=Path, metavar="FILE", help="the key (AGE-SECRET-KEY-...) that opens it")
        parser.add_argument("--passphrase", type=Path, metavar="FILE", help="the passphrase that opens it")
        parser.add_argument(
            "--erasures", type=Path, metavar="FILE", help="the list of erasures kept beside the media folder"
        )
        parser.add_argument(
            "--without-erasures", action="store_true", help="the list is lost: whoever was erased since comes back"
        )
        parser.add_argument(
            "--check", action="store_true", help="read the backup whole and compare it with its manifest; write nothing"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            listed = list(noted_erasures(options["erasures"]))
            opener = Opener.from_files(key=options["key"], passphrase=options["passphrase"])
            if options["check"]:
                self.say_whole(check_backup(options["path"], opener=opener))
                return
            manifest = self.put_back(
                options["path"], opener, listed=None if options["without_erasures"] else len(listed)
            )
        except BackupError as error:
            raise CommandError(f"{error} Nothing was restored.", returncode=2) from None
        except Error as error:
            raise CommandError(f"The database does not answer ({error}). Nothing was restored.", returncode=2) from None
        except OSError as error:
            raise CommandError(f"{error.strerror or error}. Nothing was restored.", returncode=2) from None
        enter_all(timezone.now())  # what the district set is there only now
        self.stdout.write(
            f"Restored the backup of {timezone.localtime(manifest.moment):%Y-%m-%d %H:%M}: {manifest.holds}."
        )
        self.say_missing(manifest)
        self.forget(manifest, listed, own=options["erasures"])
        call_command("verify", stdout=self.stdout)

    def say_whole(self, manifest: Manifest) -> None:
        if set(manifest.migrations) - known_migrations():
            raise BackupError(f"The backup is whole, but of a newer version, {manifest.version}.")
        self.stdout.write(
            f"Whole: the backup of {timezone.localtime(manifest.moment):%Y-%m-%d %H:%M}, {manifest.holds}. "
            "Nothing was restored."
        )
        self.say_missing(manifest)

    def say_missing(self, manifest: Manifest) -> None:
        for name in manifest.missing:
            self.stdout.write(f"was not there when the backup was made: {name}")

    def put_back(self, path: Path, opener: Opener, *, listed: int | None) -> Manifest:
        media = Path(settings.MEDIA_ROOT)
        media.mkdir(parents=True, exist_ok=True, mode=0o700)
        for left in media.glob(f"{UNFINISHED}*"):  # by one that was killed
            shutil.rmtree(left)
        if problem := place_problem():
            raise BackupError(problem)
        if any(media.iterdir()):
            raise BackupError(f"There are files in {media} already.")
        with tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=media) as folder:
            unpacked = unpack(path, Path(folder), opener=opener)
            manifest = unpacked.manifest
            if listed is not None and listed < manifest.erasures:
                raise BackupError(
                    f"The list of erasures had {manifest.erasures} lines when the backup was made and has {listed} "
                    "here. Name it by --erasures; if it is lost, say --without-erasures."
                )
            if set(manifest.migrations) - known_migrations():
                raise BackupError(f"The backup is of a newer version, {manifest.version}.")
            with (
                placed_files(unpacked.files, media),
                load_database(unpacked.database, kind=manifest.kind, counts=manifest.counts),
            ):
                call_command("migrate", verbosity=0)
        return manifest

    def forget(self, manifest: Manifest, listed: Sequence[Erasure], *, own: Path | None) -> None:
        """Erase again what was erased after the backup; the list given is this place's list from now on."""
        if own is not None and own.exists() and not list_path().exists():
            shutil.copyfile(own, list_path())
            list_path().chmod(0o600)
        since = erased_since(manifest.moment, listed)
        count, words = erase_again(since.values(), at=timezone.now())
        self.stdout.write(f"{count} students who were erased after the backup were erased again.")
        for line in words:
            self.stdout.write(line)


def known_migrations() -> set[str]:
    return {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
