"""Every component on one page, drawn from the samples that its test draws it from; config/urls.py has it in debug only."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django import forms
from django.contrib.auth.decorators import login_not_required
from django.contrib.messages import constants
from django.contrib.messages.storage.base import Message
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from core.tables import FILE_FORMS, BaseTable
from inventory.catalog.load import catalog

ACTS = [{"label": "Inspect", "url": "/inspect/"}, {"label": "Start job", "url": "/job/", "main": True}]
ODD = '<b>"Ünïcode" & \u202eright to left\u202c</b>'


class SampleForm(forms.Form):
    serial = forms.CharField(label="Serial number", help_text="Write none if there is none.")
    year = forms.IntegerField(label="Year made", required=False)
    how = forms.ChoiceField(label="How it came", choices=[("b", "Bought"), ("g", "Gift")], widget=forms.RadioSelect)
    handle = forms.BooleanField(label="The case has a handle", required=False)
    token = forms.CharField(widget=forms.HiddenInput, required=False)


class SampleTable(BaseTable):
    number = tables.Column(linkify=lambda record: f"/i/{record['number']}/", attrs={"td": {"class": "card-title"}})
    kind = tables.Column()
    due = tables.Column()


def make_table(*, rows: int = 3, page: int = 1) -> SampleTable:
    data = [{"number": f"CF-{i:04}", "kind": "Cornet", "due": None} for i in range(rows)]
    table = SampleTable(data, order_by="-number", empty_text="No instrument fits")
    table.paginate(page=page, per_page=2)
    return table


SAMPLES: dict[str, dict[str, Any]] = {
    "styles.html": {},
    "nav_items.html": {"nav": [{"label": "Today", "url": "/", "count": 3}]},
    "log_out.html": {},
    "language.html": {},
    "messages.html": {"messages": [Message(level, ODD) for level in (constants.ERROR, constants.WARNING, constants.SUCCESS, constants.INFO)]},
    "status_badge.html": {"verdict": "plays_with_limits", "text": ODD, "big": True},
    "readiness.html": {"readiness": "stays_in", "reasons": [{"text": ODD, "url": "/x/", "action": "Free it"}, {"text": "No mouthpiece."}], "note": "Since Monday."},
    "field.html": {"field": SampleForm({}, auto_id="s1-%s")["serial"], "optional": True, "whole": True, "hide_label": False},
    "fields.html": {"fields": [SampleForm({}, auto_id="s2-%s")["serial"], SampleForm({"year": "x"}, auto_id="s3-%s")["year"], SampleForm({}, auto_id="s4-%s")["handle"]]},
    "form.html": {"form": SampleForm({"year": "x"}, auto_id="s5-%s"), "action_url": "/a/", "button": "Add it", "multipart": True, "two": True, "cancel_url": "/", "cancel": "Leave", "hx": "form", "hidden": [{"name": "a", "value": "1"}]},
    "page_header.html": {"title": ODD, "over": "", "instrument": {"asset_number": "CF-0412", "school": ODD}, "over_url": "/i/", "under": "In storage", "under_from": "", "verdict": "plays", "back_url": "/", "back": "Instruments", "acts": ACTS, "pictured": catalog().kinds["tuba"]},
    "empty_state.html": {"title": "No instrument is out", "text": ODD, "acts": ACTS, "pictured": catalog().kinds["tuba"]},
    "confirm.html": {"title": "Take it out?", "text": ODD, "consequences": ["Its tag stops working."], "action_url": "/a/", "button": "Take it out", "stop": True, "cancel_url": "/", "cancel": "No", "hidden": [{"name": "a", "value": "1"}]},
    "table.html": {"table": make_table(), "empty": {"title": "None", "text": "Add one.", "acts": ACTS}, "count_word": "instrument"},
    "file_links.html": {"files": FILE_FORMS},
    "filter_bar.html": {"form": SampleForm({}, auto_id="s6-%s"), "target": "table", "action_url": "/i/", "sort": ODD},
    "stat_strip.html": {"stats": [{"sum": 148, "what": "may go out", "url": "?a=1", "verdict": "plays", "current": True}, {"sum": "$2,310", "what": "to play"}], "label": "Fleet"},
    "action_bar.html": {"acts": [*ACTS, {"label": "It turns", "url": "/o/", "post": True, "name": "outcome", "value": "freed", "stop": True}], "stack": True},
    "notice.html": {"text": ODD, "tone": "stop", "title": "Not saved", "url": "/x/", "action": "Look", "errors": [], "focus": True, "inside": "components/log_out.html"},
    "refused.html": {"errors": [ODD], "title": "Not lent yet.", "text": "Choose the files again."},
    "caution.html": {"hazards": [{"name": "Open flame", "caution": ODD}], "action_url": "/a/", "token": "flame", "button": "I am trained", "acknowledged": ""},
    "pager.html": {"page": Paginator(range(30), 10).page(2)},
    "picked_bar.html": {"acts": [{"label": ODD, "url": "/clean/"}]},
    "public_footer.html": {"contact": ODD},
    "list_columns.html": {"lines": [{"field": SampleForm({}, auto_id="s7-%s")["serial"], "examples": [ODD], "guess": {"is_sure": False, "because": ODD}}, {"field": SampleForm({}, auto_id="s8-%s")["year"], "examples": [], "guess": {"is_sure": True, "because": ODD}}]},
    "device.html": {},
    "something_waits.html": {"locks": True},
    "progress.html": {"label": ODD, "done": 3, "total": 7},
    "work_line.html": {"lines": [{"pk": 1, "title": ODD, "is_open": True, "state": "runs", "done": 3, "total": 7}, {"pk": 2, "title": ODD, "is_open": False, "state": "failed"}, {"pk": 3, "title": ODD, "is_open": False, "state": "done", "url": "/x/", "url_label": "Download"}], "asks": True, "is_first": False},
    "remove_line.html": {"action_url": "/a/", "text": ODD, "note": ODD, "sends": "role", "value": 7},
    "removable.html": {"lines": [{"text": ODD, "url": "/a/", "sends": "role", "value": 7}], "empty": "None yet."},
}  # fmt: skip
OF_THE_BASE = {"styles.html", "device.html", "something_waits.html"}  # every page has them already
SIZES = ("lead", "", "small")
BUTTONS = ("", "btn-main", "btn-brass", "btn-stop", "btn-small", "btn-big")
TONES = ("plays", "limits", "stop", "none")
WORDS = "Bb clarinet, B\u266d, F\u266f4, TV-0412, $1,216.81"


@login_not_required
def look(request: HttpRequest) -> HttpResponse:
    """Show the type, the buttons, the tones and every component."""
    pieces = [
        (name, render_to_string(f"components/{name}", sample, request=request))
        for name, sample in SAMPLES.items()
        if name not in OF_THE_BASE
    ]
    return render(
        request,
        "desk/look.html",
        {"pieces": pieces, "sizes": SIZES, "buttons": BUTTONS, "tones": TONES, "words": WORDS},
    )
