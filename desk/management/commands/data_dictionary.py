"""``manage.py data_dictionary``: every table and column, as a page of the documentation or as JSON."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from desk.management.dictionary import as_markdown, lines_of, our_models


class Command(BaseCommand):
    help = (
        "Print every table and column with type, meaning, unit and who sees it, read from the models. Needs no database. "
        "Exits 2 if the file cannot be written."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", type=Path, metavar="FILE", help="write it there: docs/data-dictionary.md")
        parser.add_argument("--json", action="store_true", help="as JSON, by table")

    def handle(self, *args: Any, **options: Any) -> None:
        text = as_markdown()
        if options["json"]:
            tables = {model._meta.label: [asdict(line) for line in lines_of(model)] for model in our_models()}
            text = json.dumps(tables, indent=2) + "\n"
        if options["out"] is None:
            self.stdout.write(text, ending="")
            return
        try:
            options["out"].write_text(text, "utf-8")
        except OSError as error:
            raise CommandError(f"{options['out']}: {error.strerror}", returncode=2) from None
