"""Every form that somebody types into waits on the device until it is saved (static/js/kept-forms.js)."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

FOLDER = Path(settings.BASE_DIR) / "templates"
FORM = re.compile(r"<form\b(?P<tag>[^>]*(?:\{%.*?%\}[^>]*)*)>(?P<inside>.*?)</form>", re.DOTALL)
TYPED = re.compile(
    r"<textarea|<select|components/fields?\.html|_form\w*\.html|count_lines|lend_|take_back_how|prove_|play_test_"
    r"|type=\"(?:text|number|date|search|file|checkbox|radio)\""
)
NOT_KEPT = {
    "components/table.html": "which columns a list shows, ticked again in a moment",
    "core/add_passkey.html": "the name of a passkey that is made in the same moment",
    "desk/archives.html": "one choice of a list",
    "desk/begin.html": "the first page of an installation, where nobody can log in yet",
    "desk/count.html": "a number scanned or typed, sent at once; what could not be sent waits in static/js/scan-line.js",
    "desk/give_back.html": "a number scanned or typed, sent at once; what could not be sent waits in static/js/scan-line.js",
    "desk/search.html": "one line of words to find something by",
    "loans/student_merge.html": "one choice of a list",
    "desk/report.html": "sent without a log-in, so that there is nobody to keep it for",
    "desk/sign_by_link.html": "sent without a log-in, so that there is nobody to keep it for",
    "inventory/labels_start.html": "downloads a sheet and changes nothing",
    "inventory/tags_live.html": "one optional word about a new tag",
}


def forms() -> list[tuple[str, str, str]]:
    """Return page, opening tag and what is inside of each form that posts."""
    return [
        (path.relative_to(FOLDER).as_posix(), match["tag"], match["inside"])
        for path in sorted(FOLDER.rglob("*.html"))
        for match in FORM.finditer(path.read_text())
        if 'method="post"' in match["tag"]
    ]


def test_a_form_that_is_typed_into_is_kept():
    forgotten = {page for page, tag, inside in forms() if TYPED.search(inside) and "data-keep" not in tag}
    assert forgotten == set(NOT_KEPT)


def test_the_long_forms_are_kept():
    kept = {page for page, tag, _inside in forms() if "data-keep" in tag}
    assert kept >= {
        "components/form.html",  # terms, orders, shops, people, students
        "desk/lend.html",
        "desk/take_back.html",
        "inventory/import_columns.html",
        "inventory/instrument_edit.html",
        "inventory/instrument_form.html",
        "inventory/play_test.html",
        "inventory/walk_accessories.html",
        "inventory/walk_finish.html",
        "inventory/walk_stop_wrong.html",
        "repairs/job_step_form.html",
        "repairs/prove.html",
    }
