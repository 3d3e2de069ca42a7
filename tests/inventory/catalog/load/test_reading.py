"""Typed entries out of plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated, Any, Literal

import pytest
from msgspec import Meta

from inventory.catalog.load.folder import Folder
from inventory.catalog.load.reading import Reader, did_you_mean
from inventory.catalog.schema import In, Ladder, Method, Origin, PartNeed, Severity, Skill
from inventory.catalog.schema.words import Minutes, NoteRange, Share, Span, Texts


@dataclass(frozen=True, kw_only=True)
class Inner:
    code: str
    size: int = 1
    origin: Origin = Origin.DEFAULT


@dataclass(frozen=True, kw_only=True)
class Thing:
    text: str = ""
    texts: Texts = ()
    flag: bool = False
    number: Decimal = Decimal(0)
    maybe: Decimal | None = None
    share: Share = 0.0
    whole: Annotated[int, Meta(ge=1, le=3)] = 1
    minutes: Minutes = (0, 0, 0)
    span: Span | None = None
    notes: NoteRange | None = None
    severity: Severity = Severity.LIGHT
    severities: tuple[Severity, ...] = ()
    scope: Literal["part", "instrument"] = "part"
    words: Mapping[Severity, str] | None = None
    by_severity: Mapping[Severity, Share] = None  # type: ignore[assignment]
    faults: Annotated[Texts, In("faults")] = ()
    fault: Annotated[str, In("faults")] = ""
    by_role: Mapping[Annotated[str, In("roles")], Annotated[Texts, In("faults")]] = None  # type: ignore[assignment]
    entries: tuple[Inner, ...] = ()


def make_reader() -> Reader:
    folder = Folder(sections={"faults": {"dent": {}, "slide_seized": {}}, "roles": {"bell": {}}})
    return Reader(folder=folder, file="f.yaml")


def read(raw: Any, kind: type = Thing, **given: Any) -> tuple[Any, list[tuple[str, str]]]:
    reader = make_reader()
    entry = reader.entry(kind, raw, "thing", **given)
    assert all(one.file == "f.yaml" for one in reader.problems)
    return entry, [(one.key, one.reason) for one in reader.problems]


def test_values_that_fit_are_taken_and_nothing_is_noted():
    raw = {
        "text": "a", "texts": ["x"], "flag": True, "number": 0.1, "maybe": None, "share": 1, "whole": 3,
        "minutes": [1, 2, 2], "span": [1, 2.5], "notes": ["A3", "E5"], "severity": "severe",
        "severities": ["light"], "scope": "instrument", "faults": ["dent"], "by_role": {"bell": ["dent"]},
        "by_severity": {"light": 0, "moderate": 0.5, "severe": 1},
    }  # fmt: skip
    found, problems = read(raw)
    assert problems == []
    assert (found.number, found.share, found.span) == (Decimal("0.1"), 1.0, (Decimal(1), Decimal("2.5")))
    assert (found.texts, found.minutes, found.notes) == (("x",), (1, 2, 2), ("A3", "E5"))
    assert found.severity is Severity.SEVERE
    assert found.by_role == {"bell": ("dent",)}
    assert found.by_severity[Severity.MODERATE] == 0.5


@pytest.mark.parametrize(
    ("name", "raw", "reason"),
    [
        ("text", 3, "expected text"),
        ("text", None, "expected text"),
        ("texts", "abc", "expected a list of texts"),
        ("texts", [1], "expected a list of texts"),
        ("flag", "yes", "expected true or false"),
        ("flag", 1, "expected true or false"),
        ("number", -1, "expected a number that is not negative"),
        ("number", True, "expected a number that is not negative"),
        ("number", "12", "expected a number that is not negative"),
        ("number", float("nan"), "expected a number that is not negative"),
        ("number", float("inf"), "expected a number that is not negative"),
        ("maybe", "free", "expected a number that is not negative"),
        ("share", 2, "expected a share between 0 and 1"),
        ("share", -0.1, "expected a share between 0 and 1"),
        ("whole", 4, "expected a whole number from 1 to 3"),
        ("whole", 0, "expected a whole number from 1 to 3"),
        ("whole", 1.5, "expected a whole number from 1 to 3"),
        ("whole", None, "expected a whole number from 1 to 3"),
        ("span", [2, 1], "expected [low, high]"),
        ("span", [1], "expected [low, high]"),
        ("span", ["1", "2"], "expected [low, high]"),
        ("minutes", [1, 2], "expected minutes as [low, likely, high]"),
        ("minutes", [3, 2, 4], "expected minutes as [low, likely, high]"),
        ("minutes", [-1, 2, 4], "expected minutes as [low, likely, high]"),
        ("notes", ["H4", "C5"], "expected [low note, high note], as [A3, E5]"),
        ("notes", ["E5", "A3"], "expected [low note, high note], as [A3, E5]"),
        ("severity", "bad", "expected one of light, moderate, severe"),
        ("severities", ["bad"], "expected some of light, moderate, severe"),
        ("scope", "room", "expected one of part, instrument"),
        ("by_role", 1, "expected a mapping"),
        ("faults", ["luck"], "no fault called luck"),
        ("faults", ["slide_siezed"], "no fault called slide_siezed; did you mean slide_seized?"),
        ("fault", "dint", "no fault called dint; did you mean dent?"),
        ("entries", 3, "expected a mapping"),
    ],
)
def test_a_value_that_does_not_fit_is_noted_by_its_key(name, raw, reason):
    assert read({name: raw}) == (None, [(f"thing.{name}", reason)])


def test_a_key_of_a_mapping_may_be_a_code():
    assert read({"by_role": {"belly": []}})[1] == [("thing.by_role.belly", "no role called belly; did you mean bell?")]


def test_what_is_no_mapping_is_noted():
    assert read("drop") == (None, [("thing", "expected a mapping")])


def test_every_problem_of_an_entry_is_noted():
    raw = {"flag": "yes", "nmuber": 3, "entries": {"a": {"size": "big"}, "b": {"sise": 1}}, "by_role": {"bell": ["x"]}}
    assert sorted(key for key, _ in read(raw)[1]) == [
        "thing.by_role.bell", "thing.entries.a.size", "thing.entries.b.sise", "thing.flag", "thing.nmuber",
    ]  # fmt: skip


def test_a_missing_key_that_is_required_is_noted_once_whatever_its_range():
    """A whole number that is missing does not quietly become its lowest value."""

    @dataclass(frozen=True)
    class Counted:
        count: Annotated[int, Meta(ge=1, le=20)]

    assert read({}, Counted) == (None, [("thing.count", "missing")])


def test_keys_nobody_asked_for_are_noted_with_what_was_meant():
    assert read({"txet": "b"})[1] == [("thing.txet", "unknown key; did you mean text?")]
    assert read({"colour": "b"})[1] == [("thing.colour", "unknown key")]


def test_what_is_set_from_outside_may_not_be_said():
    assert read({"code": "other"}, Inner, code="own")[1] == [("thing.code", "unknown key")]


def test_a_mapping_by_word_needs_every_word_and_knows_no_other():
    found, problems = read({"by_severity": {"light": 0, "awful": 1}})
    assert found is None
    assert problems == [
        ("thing.by_severity.moderate", "missing"),
        ("thing.by_severity.severe", "missing"),
        ("thing.by_severity.awful", "unknown key"),
    ]


def test_entries_in_a_mapping_take_their_code_and_inherit_the_origin():
    found, problems = read(
        {"entries": {"a": {}, "b": {"size": 2, "origin": "published"}}, "origin": "common_practice"}, Outer
    )
    assert problems == []
    assert [(one.code, one.size, one.origin) for one in found.entries] == [
        ("a", 1, Origin.COMMON), ("b", 2, Origin.PUBLISHED),
    ]  # fmt: skip


@dataclass(frozen=True)
class Outer:
    entries: tuple[Inner, ...]
    origin: Origin = Origin.DEFAULT


METHOD = {"name": "Oil", "minutes": [1, 2, 3], "skill": "basic", "phase": 8, "watch": ["One drop."]}


def section(name: str, code: str, entry: Any, kind: type, origin: str | None = None) -> tuple[Any, list[str]]:
    folder = Folder(
        sections={name: {code: entry}, "consumables": {"oil": {}}, "methods": {}, "roles": {"bell": {}}, "faults": {}}
        | {name: {code: entry}},
        files={(name, code): f"{name}.yaml"},
    )
    if origin:
        folder.origins[name, code] = origin
    reader = Reader(folder=folder)
    return reader.section(name, kind).get(code), [f"{one.key}: {one.reason}" for one in reader.problems]


def test_a_method_takes_its_parts_fee_and_origin():
    raw = METHOD | {"parts": {"oil": {"price": [1, 2], "quantity": 0.5}}, "fee": [20, 40]}
    method, problems = section("methods", "oil", raw, Method, origin="published")
    assert problems == []
    assert method.parts == (PartNeed("oil", (Decimal(1), Decimal(2)), Decimal("0.5")),)
    assert method.fee == (Decimal(20), Decimal(40))
    assert method.skill is Skill.BASIC
    assert method.origin is Origin.PUBLISHED


def test_an_entry_names_its_own_origin_over_that_of_its_file():
    raw = METHOD | {"origin": "common_practice"}
    assert section("methods", "oil", raw, Method, origin="published")[0].origin is Origin.COMMON


def test_an_origin_that_is_none_is_noted():
    problems = section("methods", "oil", METHOD, Method, origin="hearsay")[1]
    assert problems == ["methods.oil.origin: expected one of published, common_practice, shop_default"]


@pytest.mark.parametrize("name", ["name", "minutes", "skill", "phase", "watch"])
def test_a_method_says_what_it_must(name):
    raw = {key: value for key, value in METHOD.items() if key != name}
    assert section("methods", "oil", raw, Method) == (None, [f"methods.oil.{name}: missing"])


def test_a_rung_shares_the_origin_of_its_ladder():
    rung = {"name": "Pull", "p": 0.5, "minutes": [1, 2, 3], "harm": 0.01, "force": 0}
    raw = {"name": "Stuck", "roles": [], "freed_words": "Out", "stuck_words": "In", "rungs": {"hand": rung}}
    ladder, problems = section("ladders", "slide", raw, Ladder, origin="common_practice")
    assert problems == []
    assert ladder.rungs[0].origin is Origin.COMMON
    assert section("ladders", "slide", {"rungs": {}, "name": "x", "roles": []}, Ladder)[1] == [
        "ladders.slide.freed_words: missing", "ladders.slide.stuck_words: missing",
    ]  # fmt: skip


def test_a_method_names_what_it_needs_at_parts_of_a_role():
    method, problems = section("methods", "oil", METHOD | {"needs": ["oil"], "needs_at": {"bell": ["oil"]}}, Method)
    assert problems == []
    assert method.needs_with("bell") == ("oil", "oil")
    assert method.needs_with("brace") == ("oil",)


def test_only_a_close_word_is_proposed():
    assert did_you_mean("corkk", ["cork", "force"]) == "; did you mean cork?"
    assert did_you_mean("xyz", ["cork", "force"]) == ""
