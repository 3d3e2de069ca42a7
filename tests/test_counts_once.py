"""No form that makes a row without the key that lets it count once, or a reason why the second cannot make another.

Read from the code: each service that a view calls, with all that it calls among the services, and whether any of them
makes rows. ``tests/flows/test_posted_twice.py`` posts the forms.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import textwrap
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
APPS = ("core", "inventory", "loans", "repairs", "desk")
MAKES = {"create", "bulk_create", "get_or_create", "update_or_create"}

# Services without a key, with what keeps the second post from making a second row.
WITHOUT_KEY = {
    "begin_hand_out_walk": "the open walk of the instrument goes on",
    "begin_return_walk": "the open walk of the instrument goes on",
    "start_inspection": "the open walk of the instrument goes on",
    "carry_over_inspection": "the open walk of the instrument goes on",
    "look_at_part": "called within take_tap, which has the key of the tap",
    "look_at_rest": "called within take_tap, which has the key of the tap",
    "record_findings": "called within take_tap, which has the key of the tap",
    "finish_inspection": "called within take_tap, which has the key of the tap",
    "settle_offer": "an offer that is settled is refused",
    "take_back_at_desk": "ends the loan, which is then no longer open",
    "undo_return": "the loan is then open, and cannot be opened again",
    "inspect_as_handed_out": "what is inspected is no longer on the pile",
    "print_papers": "a paper that is the same and has not come back is printed again",
    "print_papers_of_loans": "a paper that is the same and has not come back is printed again",
    "take_in_paper": "a paper is used once, and kept once until then",
    "sign_lent": "a loan is signed once",
    "sign_by_link": "a loan is signed once, and the link is then used up",
    "make_integration": "a new token of the same name ends the one before",
    "make_calendar_link": "a new address ends the one before",
    "note_came_back": "a notice comes back once, and one letter follows",
    "make_overdue_letters": "what a family was told of is not made again",
    "mail_first_link": "no second link while one works",
    "mail_links": "no second link while one works",
    "make_codes": "no second link while one works",
    "mail_link": "a new link replaces the one the guardian has",
    "undo_loan": "ends the loan, which is then no longer open",
    "change_due_dates": "only a loan with another date changes, and gets one addendum",
    "share_instrument": "who uses it in a class already is not noted again",
    "merge_records": "the other record is then part of the one that is kept",
    "merge_students": "the other record is then part of the one that is kept",
    "unmerge_instrument": "the other record is then on its own again",
    "give_up_job": "ends the job, which is then no longer open",
    "settle_decision": "settles what waits, which then no longer waits",
    "bring_back": "the order is back then",
    "send_together": "the orders are sent then",
    "move_instrument": "says from where to where; it is no longer there",
    "start_step": "one clock of a step",
    "begin_wait": "one clock of a step; the wait goes on",
    "came_free_after_all": "the way is then no longer given up",
    "acknowledge_cautions": "only what is still unread in this job",
    "record_care": "the same care on the same day is the same row",
    "withdraw_care": "only what stands; the days kept after it are one row of an instrument and care",
    "call_off": "only what has not begun, and what holds already is not set again",
    "change_instrument": "corrects; a new room of a name that is there is that room",
    "change_student": "corrects; guardians are one row a place",
    "choose_courses": "one row a course, and only what differs is written",
    "import_rosters": "writes only what differs from what is there, one person by the district's own number",
    "record_sighting": "the same instrument, or the same unknown number, is one sighting of a count",
    "sign_count": "closes the count, which is then no longer open",
    "note_lock": "one lock of an instrument; the same combination again changes nothing",
    "issue_missing_tags": "only to instruments without a tag",
    "begin_import": "keeps the list by a service that has the key",
    "choose_columns": "what is remembered of a school's columns is one row a heading",
    "judge_more": "goes on from the last row that was judged",
    "publish_import": "the list is published then",
    "publish_with_loans": "the list is published then",
    "open_district": "the link to it is used up then",
    "make_link": "a new link voids the one before",
    "solve_again": "a line for each wish that has none yet",
    "seat_students": "who sits there already is not seated again",
    "take_try": "counts each try to log in, the second as well",
    "link_sign_on": "one of a person; what the provider answered is used up",
}


class Called(NamedTuple):
    name: str
    function: Callable[..., Any]
    keywords: set[str | None]  # None: **


def is_of_services(function: Callable[..., Any]) -> bool:
    return ".services" in inspect.unwrap(function).__module__


@cache
def tree_of(function: Callable[..., Any]) -> ast.Module:
    return ast.parse(textwrap.dedent(inspect.getsource(inspect.unwrap(function))))


def makes_rows(function: Callable[..., Any], seen: set[str] | None = None) -> bool:
    """Whether it, or a service that it calls, makes a row; that every act makes an event does not count."""
    seen, plain = seen if seen is not None else set(), inspect.unwrap(function)
    name = f"{plain.__module__}.{plain.__qualname__}"
    if name in seen:
        return False
    seen.add(name)
    tree = tree_of(function)
    if any(is_making(node) for node in ast.walk(tree)):
        return True
    others = (plain.__globals__.get(node.id) for node in ast.walk(tree) if isinstance(node, ast.Name))
    return any(makes_rows(one, seen) for one in others if inspect.isfunction(one) and is_of_services(one))


def is_making(node: ast.AST) -> bool:
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return False
    is_save = node.func.attr == "save" and not node.args and "update_fields" not in {key.arg for key in node.keywords}
    return node.func.attr in MAKES or is_save


def key_of(function: Callable[..., Any]) -> str:
    """The parameter that holds the key of a posted form; "" where it has none."""
    (definition,) = tree_of(function).body
    for decorator in getattr(definition, "decorator_list", []):
        for keyword in getattr(decorator, "keywords", []):
            if keyword.arg == "once":
                return str(ast.literal_eval(keyword.value))
    return ""


def calls_of(path: Path) -> Iterator[Called]:
    """The services that a module calls, or hands on to be called (then with no keyword of its own)."""
    module = importlib.import_module(path.relative_to(ROOT).with_suffix("").as_posix().replace("/", "."))
    tree = ast.parse(path.read_text("utf-8"))
    called = {id(node.func): node for node in ast.walk(tree) if isinstance(node, ast.Call)}
    for node in ast.walk(tree):
        found = getattr(module, node.id, None) if isinstance(node, ast.Name) else None
        if inspect.isfunction(found) and is_of_services(found):
            call = called.get(id(node))
            yield Called(node.id, found, {key.arg for key in call.keywords} if call else {None})


VIEWS = sorted(path for app in APPS for path in (ROOT / app / "views").rglob("*.py"))
CALLED = [call for path in VIEWS for call in calls_of(path)]
MAKING = {call.name for call in CALLED if makes_rows(call.function)}


def test_the_net_sees_what_it_is_for():
    assert {"add_school", "lend_at_desk", "add_room"} <= MAKING
    assert not MAKING & {"change_school", "remove_role"}
    assert len(VIEWS) > 40


def test_every_form_that_makes_a_row_has_a_key_or_a_reason():
    keyless = {call.name for call in CALLED if call.name in MAKING and not key_of(call.function)}
    assert sorted(keyless - WITHOUT_KEY.keys()) == [], (
        'give the service @service(once="nonce") and the form core.forms.OnceForm, or say here why a second post makes'
        " no second row"
    )
    assert sorted(WITHOUT_KEY.keys() - keyless) == [], "take these out of WITHOUT_KEY"


def test_every_view_hands_on_the_key_of_its_form():
    keyed = [(call, key) for call in CALLED if (key := key_of(call.function))]
    assert len(keyed) > 30
    assert [f"{call.name} is called without {key}" for call, key in keyed if not call.keywords & {key, None}] == []


def test_no_view_makes_a_row_past_the_services():
    made = [
        f"{path.name}:{node.lineno}"
        for path in VIEWS
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in MAKES
    ]
    assert made == []
