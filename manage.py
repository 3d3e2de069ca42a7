#!/usr/bin/env python3
"""Hornbook's command line."""

import os
import sys


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit(f"{sys.executable} has no Django. Run .venv/bin/python manage.py; `make serve` makes or mends .venv.")
    try:
        execute_from_command_line(sys.argv)
    except Exception as error:
        from config.sentences import sentence

        said = None if "--traceback" in sys.argv else sentence(error)
        if said is None:
            raise
        sys.exit(said)


if __name__ == "__main__":
    main()
