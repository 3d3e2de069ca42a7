"""What an import needs to know of the register, and what its pages show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict
from datetime import date
from itertools import islice
from typing import Any

from django.db.models import Case, IntegerField, Q, QuerySet, When
from django.utils.translation import gettext

from core.access import has_perm
from core.cells import CellTrouble, SheetRow, from_json
from core.models import User
from inventory.catalog import names
from inventory.catalog.load import catalog
from inventory.columns import BY_NAME, IN_LISTS, LOOSE_KINDS
from inventory.models import ColumnMemory, Donation, ImportBatch, ImportRow, Instrument, Room, School, schools_of
from inventory.rules.intake.judge import (
    KnownFleet,
    KnownInstrument,
    ProblemSheet,
    RowJudgement,
    judge_rows,
    problem_sheet,
)
from inventory.rules.intake.mapping import ColumnMapping, guess_mapping
from inventory.rules.intake.orders import column_orders
from inventory.rules.intake.parse.words import name_key
from inventory.rules.intake.row import NO_ANSWERS, Answers, Places, RowProblem, RowReader, place_key

MAY_IMPORT = "inventory.import_instruments"
SAMPLE = 50  # rows from which columns are guessed
EXAMPLES = 3
LONGEST_EXAMPLE = 40
APART = {
    "kind", "maker", "model", "as_listed", "asset_number", "serial", "accessories", "student", "student_first",
    "student_last", "student_grade", "out_since", "due_on",
}  # fmt: skip  # shown by themselves, or in the notes


def import_schools(actor: User | None) -> QuerySet[School]:
    """Where somebody may import to; a command (nobody) may everywhere."""
    if actor is None:
        return School.objects.all()
    return schools_of(actor, MAY_IMPORT)


def batches_for(user: User) -> QuerySet[ImportBatch]:
    """The imports somebody may go on with.

    A list sent by somebody with several schools may hold rows of others than the one chosen: then only the sender
    and whoever may import everywhere see it.
    """
    if not has_perm(user, MAY_IMPORT):
        return ImportBatch.objects.none()
    mine = import_schools(user)
    rows = ImportBatch.objects.visible_to(user).exclude(state=ImportBatch.State.DROPPED)
    if not School.objects.exclude(pk__in=mine.values("pk")).exists():
        return rows
    return rows.filter(Q(may_cross_schools=False) | Q(actor=user))


def longest_texts() -> Mapping[str, int]:
    """How many characters the register keeps of what a row says, by its key; notes are cut instead."""
    stored: dict[str, Any] = {
        key: Instrument._meta.get_field(column.name)
        for key, column in IN_LISTS.items()
        if column.name in BY_NAME and column.reads in {"text", "number"}
    }
    stored |= {"room": Room._meta.get_field("name"), "donor": Donation._meta.get_field("donor_name")}
    return {key: field.max_length for key, field in stored.items() if getattr(field, "max_length", None)}


def find_kind_code(text: str) -> str | None:
    kind = names.find_kind(catalog(), text)
    return kind.code if kind else None


def kind_words() -> dict[str, str]:
    """Every word for a kind, in lower case, to the name it is shown by."""
    words: dict[str, str] = {}
    for kind in catalog().kinds.values():
        for word in (kind.name, *kind.aliases):
            words.setdefault(word.casefold(), kind.name)
    return words


def loose_kinds() -> dict[str, str]:
    """Code to name of the kinds that a loose word may mean."""
    kinds = catalog().kinds
    return {code: kinds[code].name for codes in LOOSE_KINDS.values() for code in codes if code in kinds}


def known_makers() -> dict[str, str]:
    """How each maker of the register is compared, to how it is written there most lately."""
    makers = Instrument.objects.exclude(maker="").order_by("maker").values_list("maker", flat=True).distinct()
    return {name_key(maker): maker for maker in makers}


def dates_in(mapping: ColumnMapping) -> list[int]:
    """The columns that hold dates."""
    return [
        column.index for column in mapping.columns if column.field and IN_LISTS[column.field].reads in {"date", "due"}
    ]


def orders_shown(mapping: ColumnMapping, *, rows: Iterable[SheetRow]) -> dict[str, dict[str, Any]]:
    """Which order the dates of each column show, as ImportBatch.asked keeps it."""
    columns = dates_in(mapping)
    return (
        {str(index): asdict(found) for index, found in column_orders(rows, columns=columns).items()} if columns else {}
    )


def answers_of(batch: ImportBatch) -> Answers:
    """What was said of the list; an order that nobody said is the one that its dates show."""
    shown = {index: found["order"] for index, found in batch.asked.get("orders", {}).items()}
    orders = shown | batch.answers.get("orders", {})
    return Answers(batch.answers.get("kinds", {}), {int(index): order for index, order in orders.items()})


def mended(rows: Iterable[SheetRow], *, cells: Mapping[str, Mapping[str, str]]) -> Iterator[SheetRow]:
    """The rows with what was typed over their cells, by the row's number and the column's index."""
    for row in rows:
        if typed := cells.get(str(row.number)):
            length = max(len(row.cells), *(int(index) + 1 for index in typed))
            old = (*row.cells, *([""] * (length - len(row.cells))))
            yield SheetRow(row.number, tuple(typed.get(str(index), cell) for index, cell in enumerate(old)))
        else:
            yield row


def known_fleet(schools: Iterable[School]) -> KnownFleet:
    """The whole district, for nothing may come in twice; what stands at other schools than these is not told."""
    seen = {school.pk for school in schools}
    columns = (
        "asset_number", "kind_code", "maker", "serial", "school_id", "is_entered_in_error", "second_number",
    )  # fmt: skip
    rows = Instrument.objects.values_list(*columns)
    fingerprints = Instrument.objects.exclude(fingerprint="").values_list("fingerprint", flat=True)
    return KnownFleet(
        instruments=[
            KnownInstrument(
                number, kind, maker, "" if is_error else serial, is_elsewhere=school not in seen, second_number=second
            )
            for number, kind, maker, serial, school, is_error, second in rows.order_by().iterator(chunk_size=5000)
        ],
        fingerprints=frozenset(fingerprints.order_by().iterator(chunk_size=5000)),
    )


def places_of(schools: Iterable[School], *, own: School) -> Places:
    """The schools and rooms that a row may name."""
    known = list(schools)
    spelled: dict[str, str] = {}
    for school in known:
        for word in (school.code, school.name):
            spelled.setdefault(place_key(word), school.code)
    rooms: dict[str, dict[str, str]] = {school.code: {} for school in known}
    for code, name in Room.objects.filter(school__in=known).values_list("school__code", "name").order_by("pk"):
        rooms[code].setdefault(place_key(name), name)
    return Places(schools=spelled, rooms=rooms, own_school=own.code)


def guessed_columns(*, school: School, header: list[str], sample: Iterable[SheetRow]) -> ColumnMapping:
    """What the columns seem to hold, by what the school chose before, their headings and the first rows."""
    remembered = dict(ColumnMemory.objects.filter(school=school).values_list("heading", "field"))
    return guess_mapping(header=header, sample_rows=list(sample), remembered=remembered, find_kind=find_kind_code)


def current_columns(batch: ImportBatch, *, sample: Iterable[SheetRow] = ()) -> ColumnMapping:
    """The columns as they were confirmed, or as they are guessed from the sample before that."""
    guess = guessed_columns(school=batch.school, header=batch.header, sample=sample)
    confirmed = {index: batch.mapping.get(str(index), "") for index in guess.choices} if batch.mapping else {}
    return guess.corrected({index: field for index, field in confirmed.items() if field != guess.choices[index]})


def judged_rows(
    rows: Iterable[SheetRow],
    *,
    mapping: ColumnMapping,
    school: School,
    actor: User | None,
    today: date,
    earlier: Iterable[RowJudgement] = (),
    answers: Answers = NO_ANSWERS,
) -> Iterator[RowJudgement]:
    """Judge rows by what the register holds now. ``school`` is that of rows that name none."""
    schools = list(import_schools(actor))
    reader = RowReader(
        mapping=mapping,
        find_kind=find_kind_code,
        kind_words=kind_words(),
        places=places_of(schools, own=school),
        today=today,
        longest=longest_texts(),
        answers=answers,
        kind_names=loose_kinds(),
        known_makers=known_makers() if "maker_model" in mapping.choices.values() else None,
    )
    return judge_rows(rows=rows, reader=reader, known=known_fleet(schools), earlier=earlier)


def examples_of(index: int, *, sample: Iterable[SheetRow]) -> list[str]:
    """Return a few values of the column at this place, each once and shortened."""
    cells = (row.cells[index] for row in sample if index < len(row.cells))
    texts = (
        f"({gettext(cell.reason)})" if isinstance(cell, CellTrouble) else str(cell) for cell in cells if cell != ""
    )
    return list(islice(dict.fromkeys(text[:LONGEST_EXAMPLE] for text in texts), EXAMPLES))


def problem_table(batch: ImportBatch) -> ProblemSheet:
    """The rows to correct, with their own columns first."""
    rows = batch.rows.filter(state=ImportRow.State.PROBLEM).order_by("number")
    return problem_sheet(
        header=batch.header,
        rows=[
            (
                SheetRow(row.number, from_json(row.cells)),
                [RowProblem(row.number, column, why) for column, why in row.remarks.get("problems", [])],
            )
            for row in rows
        ],
    )


def earlier_publication(batch: ImportBatch) -> ImportBatch | None:
    """The newest import of the very same file at this school, if there was one."""
    same = ImportBatch.objects.filter(school=batch.school_id, sha256=batch.sha256, state=ImportBatch.State.PUBLISHED)
    return same.exclude(pk=batch.pk).order_by("-published_at").first()


PROBLEMS_FIRST = Case(
    *(When(state=state, then=place) for place, state in enumerate(("problem", "new", "known", "skipped"))),
    output_field=IntegerField(),
)


def lines_of(rows: Iterable[ImportRow]) -> list[dict[str, Any]]:
    """Judged rows as a page shows them."""
    kinds = catalog().kinds
    lines = []
    for row in rows:
        values = row.values
        kind = kinds.get(values.get("kind", ""))
        more = [(IN_LISTS[key].label, value) for key, value in values.items() if key in IN_LISTS and key not in APART]
        lines.append(
            {
                "row": row,
                "kind": kind.name if kind else "",
                "what": " ".join(filter(None, (values.get("maker"), values.get("model")))),
                "number": values.get("asset_number", ""),
                "serial": values.get("serial", ""),
                "more": [f"{gettext(label)}: {value}" for label, value in more],
                "problems": row.remarks.get("problems", []),
                "notes": row.remarks.get("notes", []),
            }
        )
    return lines
