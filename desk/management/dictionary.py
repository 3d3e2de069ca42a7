"""The data dictionary: every table and column, read from the models, with who sees it.

A column's meaning is its help text, else the comment that stands beside it in the model, else what fixtures/dictionary.yaml
says, else what its name says in every model.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from django.apps import apps
from django.db import models

from core.access import roles_for
from inventory.columns import BY_NAME
from inventory.models import Instrument
from inventory.models.places import Role

APPS = ("core", "inventory", "repairs", "loans", "desk")
NOBODY = "nobody"
TYPES: Mapping[type[models.Field[Any, Any]], str] = {
    models.EmailField: "e-mail address",
    models.FileField: "file",
    models.CharField: "text",
    models.TextField: "long text",
    models.BooleanField: "yes or no",
    models.DateTimeField: "moment",
    models.DateField: "day",
    models.TimeField: "time of day",
    models.DecimalField: "decimal number",
    models.FloatField: "number",
    models.IntegerField: "whole number",
    models.JSONField: "JSON",
    models.UUIDField: "UUID",
    models.BinaryField: "bytes",
}
# What a name says in whichever model it stands; by its end where it begins with "_".
NAMES = {
    "id": "key of the row",
    "actor": "who did it",
    "at": "when it happened",
    "nonce": "key of the form it was typed into, so that a form posted twice counts once",
    "code": "short name by which others refer to it",
    "name": "what people call it",
    "note": "what somebody noted",
    "because": "why, as somebody typed it",
    "sourced_id": "its key in the roster it came from",
    "position": "place in its list",
    "kind_code": "code of its kind in the catalog",
    "part": "code of the part in the catalog",
    "password": "hash of the password",
    "last_login": "when this person last logged in",
    "_sha256": "SHA-256 hash of the file, kept when the file is deleted",
    "_hash": "hash of what is not kept itself",
}
UNITS = {
    "_amount": "US dollars",
    "amount": "US dollars",
    "_percent": "%",
    "_minutes": "minutes",
    "minutes": "minutes",
    "_hours": "hours",
    "_days": "days",
    "_months": "months",
    "_years": "years",
    "_cents": "cents of a semitone",
    "width": "pixels",
    "height": "pixels",
}
# Of a disposal, what papers say and what money it was about are seen by fewer than how it left (desk/pages/leaving.py).
PAPERS, MONEY = "inventory.view_paper", "desk.view_value"
BY_PAPERS = ("recipient", "findings", "police_agency", "police_number", "insurer", "claim_number")
BY_MONEY = (
    "proceeds_amount", "value_amount", "market_amount", "federal_percent", "threshold_amount", "share_amount",
)  # fmt: skip
# Permission by which somebody sees the rows of a model that has none of its own, or a column that is seen by fewer.
SEEN_BY = {
    "core.event": "inventory.view_events",
    "core.revision": "inventory.view_events",
    "core.eventhead": "desk.view_log",
    "core.user": "inventory.manage_people",
    "inventory.staffrole": "inventory.manage_people",
    "inventory.district": "inventory.manage_settings",
    "inventory.figure": "inventory.manage_settings",
    "inventory.chartconfirmation": "inventory.view_instrument",
    "inventory.donation": "inventory.view_donor",
    "inventory.columnmemory": "inventory.import_instruments",
    "inventory.instrumentpaper": PAPERS,
    **{f"inventory.disposal.{name}": PAPERS for name in BY_PAPERS},
    **{f"inventory.disposal.{name}": MONEY for name in BY_MONEY},
    "repairs.shop": "repairs.view_shop",
    "loans.agreementterms": "loans.view_terms",
    "loans.student.name": "loans.view_student_name",
    "loans.student.sort_name": "loans.view_student_name",
    "loans.agreement.names": "loans.view_student_name",
}
SECRET = {"password", "token_hash", "agreed_hash", "salt", "token"}  # read by no page
FOR_THE_PROGRAM = {"core.logintry", "core.postedform", "core.onetimelink", "core.signon", "inventory.openinglink"}


WORDS: Mapping[str, Mapping[str, str]] = yaml.safe_load(
    (Path(__file__).parents[2] / "fixtures" / "dictionary.yaml").read_text("utf-8")
)


@dataclass(frozen=True, slots=True)
class Line:
    """One column of a table."""

    name: str
    type: str
    meaning: str
    unit: str
    seen_by: str


def our_models() -> list[type[models.Model]]:
    """The models of the program's own apps, each app's in the order in which they are declared."""
    return [model for app in APPS for model in apps.get_app_config(app).get_models()]


def lines_of(model: type[models.Model]) -> Iterator[Line]:
    """A line for each column of a model."""
    comments = comments_in(model)
    for field in model._meta.local_concrete_fields:
        yield Line(
            name=field.name,
            type=type_words(field),
            meaning=meaning_of(
                field, comment=comments.get(field.name, ""), words=WORDS.get(model._meta.label, {}).get(field.name, "")
            ),
            unit=unit_of(field.name),
            seen_by=seen_by(model, field.name),
        )


def comments_in(model: type[models.Model]) -> dict[str, str]:
    """The comments that stand beside or right above the columns in the source of a model."""
    source = textwrap.dedent(inspect.getsource(model))
    rows, found, last = source.splitlines(), {}, 0
    for node in ast.parse(source).body[0].body:  # type: ignore[attr-defined]  # a class
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            beside = [_comment(row) for row in rows[node.lineno - 1 : node.end_lineno]]
            above = [row.strip().lstrip("# ") for row in rows[last : node.lineno - 1] if row.strip().startswith("#")]
            words = " ".join(filter(None, beside)) or " ".join(filter(None, above))
            if words:
                found[node.targets[0].id] = words
        last = node.end_lineno or last
    return found


def _comment(row: str) -> str:
    """The comment at the end of a line of source, without what is for tools."""
    _code, mark, words = row.partition("  # ")
    return "" if not mark or words.startswith(("type:", "noqa")) else words.strip()


def type_words(field: Any) -> str:
    """What a column holds: its type, how long it may be, its choices or the row it leads to, and whether it may be empty."""
    if isinstance(field, models.ForeignKey):
        words = f"reference to {field.related_model._meta.label}"
    else:
        words = next((words for sort, words in TYPES.items() if isinstance(field, sort)), type(field).__name__)
        if isinstance(field, models.DecimalField):
            words = f"{words} ({field.max_digits - field.decimal_places} + {field.decimal_places} digits)"
        elif field.max_length and not isinstance(field, models.FileField | models.UUIDField):
            words = f"{words} (at most {field.max_length})"
    if field.choices:
        words = f"{words}: one of {', '.join(str(label) for _, label in field.flatchoices)}"
    may_be_empty = not field.primary_key and (field.null or (field.blank and not field.has_default()))
    return f"{words}; may be empty" if may_be_empty else words


def meaning_of(field: Any, *, comment: str, words: str) -> str:
    """What a column means; a comment, and what the end of a name says, go with the name."""
    name = str(field.verbose_name).replace("_", " ")
    end = next((words_for for end, words_for in NAMES.items() if end[0] == "_" and field.name.endswith(end)), "")
    beside = f"{name}: {comment or end}" if comment or (end and not words) else ""
    text = str(field.help_text) or beside or words or NAMES.get(field.name, "") or name
    return f"{text[:1].upper()}{text[1:]}"


def unit_of(name: str) -> str:
    return next((unit for end, unit in UNITS.items() if name == end or (end[0] == "_" and name.endswith(end))), "")


def seen_by(model: type[models.Model], name: str) -> str:
    """The roles that see a column on some page of theirs."""
    label = model._meta.label_lower
    if name in SECRET or label in FOR_THE_PROGRAM:
        return NOBODY
    permission = SEEN_BY.get(f"{label}.{name}") or permission_of(model)
    if model is Instrument and name in BY_NAME:
        permission = BY_NAME[name].permission
    if not permission:
        return NOBODY
    roles = roles_for(permission)
    return ", ".join(str(role.label) for role in Role if role in roles)


def permission_of(model: type[models.Model]) -> str:
    """The permission by which the rows of a model are seen: its own, or that of what they belong to."""
    own = SEEN_BY.get(model._meta.label_lower) or getattr(model._default_manager.all(), "view_permission", "")
    if own:
        return str(own)
    owners = (
        field.related_model for field in model._meta.local_concrete_fields if isinstance(field, models.ForeignKey)
    )
    held = (SEEN_BY.get(one._meta.label_lower) or getattr(one._default_manager.all(), "view_permission", "")
            for one in owners if one is not model and one._meta.label_lower != "core.user")  # fmt: skip
    return str(next((one for one in held if one), ""))


def as_markdown() -> str:
    """The whole dictionary as a page of the documentation."""
    parts = [
        "# Data dictionary\n",
        "Every table and column, written by `manage.py data_dictionary` from the models. *Seen by* names the roles that",
        "see a column on some page, of the schools where they hold the role; *nobody*: the program alone reads it.",
        "Moments are kept in UTC and shown in the district's time zone. Amounts are exact, in US dollars.\n",
    ]
    for model in our_models():
        summary = " ".join((inspect.getdoc(model) or "").split("\n\n", maxsplit=1)[0].split())
        if summary.startswith(f"{model.__name__}("):  # Django's own, of a model without words
            summary = f"{str(model._meta.verbose_name)[:1].upper()}{str(model._meta.verbose_name)[1:]}."
        parts += [f"## {model._meta.label}\n", f"{summary} Table `{model._meta.db_table}`.\n"]
        parts += ["| column | type | meaning | unit | seen by |", "| --- | --- | --- | --- | --- |"]
        for line in lines_of(model):
            cells = (f"`{line.name}`", line.type, line.meaning, line.unit, line.seen_by)
            parts.append(f"| {' | '.join(cell.replace('|', '/') for cell in cells)} |")
        parts.append("")
    return "\n".join(parts)
