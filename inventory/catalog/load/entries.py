"""Builds the trade's entries: roles, faults, remedies, methods, ladders, guards, rules and supplies."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import TYPE_CHECKING, TypeVar

from inventory.catalog.load.fields import Fields
from inventory.catalog.schema import (
    CareInterval,
    Cause,
    Consumable,
    Effect,
    Family,
    Fault,
    FaultWay,
    FittedSet,
    Guard,
    Hazard,
    Ladder,
    Method,
    OrderRule,
    Origin,
    Overhaul,
    PartNeed,
    PlayTest,
    Remedy,
    Role,
    RoleTag,
    Rung,
    Severity,
    Skill,
    Tool,
)

if TYPE_CHECKING:
    from inventory.catalog.load.folder import Folder

T = TypeVar("T")

LAST_PHASE = 9
HARDEST_FORCE = 6
MOST_RUNGS = 15  # as many as repairs.rules.ladder puts in order whatever comes before what
LONGEST_INTERVAL = 120  # months
MOST_PLACES = 100


def section(*, folder: Folder, name: str, build: Callable[[str, Fields], T]) -> dict[str, T]:
    """Build every entry of a section by code, in the order of the file."""
    return {code: build(code, fields) for code, fields in entries(folder=folder, name=name)}


def entries(*, folder: Folder, name: str) -> list[tuple[str, Fields]]:
    """Return the entries of a section as readable fields; one without an origin gets that of its file."""
    result = []
    for code, raw in folder.sections[name].items():
        file = folder.files[name, code]
        fields = Fields({}, file, name, folder.problems).entry(code, raw)
        fields.raw = {"origin": folder.origins.get((name, code), Origin.DEFAULT.value), **fields.raw}
        result.append((code, fields))
    return result


def _origin(fields: Fields) -> Origin:
    return fields.choice("origin", Origin)


def build_role(code: str, fields: Fields) -> Role:
    _origin(fields)
    role = Role(
        code=code,
        name=fields.text("name"),
        faults=fields.texts("faults"),
        missing=fields.choice("missing", Effect),
        tags=fields.choices("tags", RoleTag, ()),
        lost=fields.text("lost", ""),
    )
    fields.close()
    return role


def build_fault(code: str, fields: Fields) -> Fault:
    effects, words = fields.inner("effects"), fields.inner("words")
    fault = Fault(
        code=code,
        name=fields.text("name"),
        effects={severity: effects.choice(severity.value, Effect) for severity in Severity},
        words={severity: words.text(severity.value) for severity in Severity},
        test=fields.text("test"),
        accept=fields.text("accept"),
        cause=fields.choice("cause", Cause),
        cost_of_harm=fields.text("cost_of_harm", ""),
        ways=fields.choices("ways", FaultWay, ()),
        origin=_origin(fields),
    )
    for inner in (effects, words, fields):
        inner.close()
    return fault


def build_remedies(*, folder: Folder) -> tuple[Remedy, ...]:
    """Build the remedies: each fault has a list, the first that fits role, severity, kind and layout counts."""
    result = []
    for fault, listed in folder.sections["remedies"].items():
        file = folder.files["remedies", fault]
        outer = Fields({fault: listed}, file, "remedies", folder.problems)
        if not isinstance(listed, list):
            outer.note(fault, "expected a list")
            continue
        for place, raw in enumerate(listed, start=1):
            fields = outer.entry(f"{fault}.{place}", raw)
            result.append(
                Remedy(
                    fault=fault,
                    roles=fields.texts("roles", ()),
                    methods=fields.texts("methods"),
                    severities=fields.choices("severities", Severity, tuple(Severity)),
                    kinds=fields.texts("kinds", ()),
                    layouts=fields.texts("layouts", ()),
                )
            )
            fields.close()
    return tuple(result)


def build_method(code: str, fields: Fields) -> Method:
    method = Method(
        code=code,
        name=fields.text("name"),
        fixes=fields.texts("fixes", ()),
        minutes=fields.minutes("minutes"),
        wait_h=fields.number("wait_h", 0),
        parts=_parts(fields),
        tools=fields.texts("tools", ()),
        skill=fields.choice("skill", Skill),
        hazards=fields.texts("hazards", ()),
        phase=fields.whole("phase", low=1, high=LAST_PHASE),
        tags=fields.texts("tags", ()),
        setup=fields.text("setup", ""),
        whole=fields.flag("whole", default=False),
        ladder=fields.text("ladder", ""),
        needs=fields.texts("needs", ()),
        after=fields.texts("after", ()),
        put_back=fields.texts("put_back", ()),
        roles=fields.texts("roles", ()),
        watch=fields.texts("watch"),
        recheck=fields.texts("recheck", ()),
        fee=fields.maybe_span("fee"),
        needs_at=_needs_at(fields.inner("needs_at")),
        origin=_origin(fields),
    )
    fields.close()
    return method


def _needs_at(fields: Fields) -> dict[str, tuple[str, ...]]:
    return {role: fields.texts(role) for role in fields.raw}


def _parts(fields: Fields) -> tuple[PartNeed, ...]:
    result = []
    for code, inner in fields.each("parts"):
        low, high = inner.span("price")
        result.append(PartNeed(code=code, quantity=inner.number("quantity", 1), low=low, high=high))
        inner.close()
    return tuple(result)


def build_ladder(code: str, fields: Fields) -> Ladder:
    origin = _origin(fields)
    ladder = Ladder(
        code=code,
        name=fields.text("name"),
        roles=fields.texts("roles"),
        rungs=tuple(_rung(rung, inner, origin) for rung, inner in fields.each("rungs")),
        stop_if=fields.texts("stop_if", ()),
        never=fields.texts("never", ()),
        harm_cost=fields.number("harm_cost", Decimal(60)),
        freed_words=fields.text("freed_words"),
        stuck_words=fields.text("stuck_words"),
    )
    fields.close()
    if not ladder.rungs:
        fields.note("rungs", "a ladder needs at least one rung")
    if len(ladder.rungs) > MOST_RUNGS:
        fields.note("rungs", f"a ladder has at most {MOST_RUNGS} rungs: of more, no order can be proved cheapest")
    return ladder


def _rung(code: str, fields: Fields, origin: Origin) -> Rung:
    rung = Rung(
        code=code,
        name=fields.text("name"),
        p=fields.share("p"),
        minutes=fields.minutes("minutes"),
        wait_h=fields.number("wait_h", 0),
        harm=fields.share("harm"),
        force=fields.whole("force", low=0, high=HARDEST_FORCE),
        skill=fields.choice("skill", Skill, Skill.BASIC),
        tags=fields.texts("tags", ()),
        tools=fields.texts("tools", ()),
        hazards=fields.texts("hazards", ()),
        needs=fields.texts("needs", ()),
        after=fields.texts("after", ()),
        warn=fields.text("warn", ""),
        shared_with=fields.text("shared_with", ""),
        fee=fields.maybe_span("fee"),
        watch=fields.texts("watch", ()),
        origin=fields.choice("origin", Origin, origin.value),
    )
    fields.close()
    return rung


def build_guard(code: str, fields: Fields) -> Guard:
    _origin(fields)
    guard = Guard(
        fault=fields.text("fault", code),
        forbids=fields.texts("forbids"),
        because=fields.text("because"),
        scope=_scope(fields, default="part"),
        severities=fields.choices("severities", Severity, tuple(Severity)),
    )
    fields.close()
    return guard


def build_overhaul(code: str, fields: Fields) -> Overhaul:
    overhaul = Overhaul(
        code=code,
        each=fields.text("each"),
        method=fields.text("method"),
        instead_of=fields.texts("instead_of"),
        from_count=fields.whole("from_count", low=2, high=MOST_PLACES),
        because=fields.text("because"),
        kinds=fields.texts("kinds", ()),
        layouts=fields.texts("layouts", ()),
        origin=_origin(fields),
    )
    fields.close()
    return overhaul


def build_fitted_set(code: str, fields: Fields) -> FittedSet:
    _origin(fields)
    fitted = FittedSet(code=code, name=fields.text("name"), roles=fields.texts("roles"), because=fields.text("because"))
    fields.close()
    return fitted


def build_order_rule(code: str, fields: Fields) -> OrderRule:
    _origin(fields)
    rule = OrderRule(
        code=code,
        name=fields.text("name"),
        first=fields.texts("first"),
        then=fields.texts("then"),
        because=fields.text("because"),
        scope=_scope(fields, default="instrument"),
        between=fields.texts("between", ()),
    )
    fields.close()
    return rule


def _scope(fields: Fields, *, default: str) -> str:
    scope = fields.text("scope", default)
    if scope not in ("part", "instrument"):
        fields.note("scope", "expected one of part, instrument")
    return scope


def build_hazard(code: str, fields: Fields) -> Hazard:
    hazard = Hazard(
        code=code,
        name=fields.text("name"),
        caution=fields.text("caution"),
        acknowledge=fields.flag("acknowledge", default=False),
        origin=_origin(fields),
    )
    fields.close()
    return hazard


def build_consumable(code: str, fields: Fields) -> Consumable:
    low, high = fields.span("price")
    consumable = Consumable(
        code=code,
        name=fields.text("name"),
        unit=fields.text("unit"),
        low=low,
        high=high,
        origin=_origin(fields),
    )
    fields.close()
    return consumable


def build_tool(code: str, fields: Fields) -> Tool:
    _origin(fields)
    tool = Tool(
        code=code,
        name=fields.text("name"),
        price=fields.number("price") if fields.has("price") else None,
        starter=fields.flag("starter", default=False),
    )
    fields.close()
    return tool


def build_play_test(code: str, fields: Fields) -> PlayTest:
    _origin(fields)
    play_test = PlayTest(
        code=code,
        play=fields.texts("play"),
        passes=fields.texts("passes"),
        limits=fields.texts("limits"),
        fails=fields.texts("fails"),
    )
    fields.close()
    return play_test


def build_interval(code: str, fields: Fields) -> CareInterval:
    interval = CareInterval(
        code=code,
        name=fields.text("name"),
        months=fields.whole("months", low=1, high=LONGEST_INTERVAL),
        idle_months=fields.whole("idle_months", 0, low=0, high=LONGEST_INTERVAL),
        why=fields.text("why"),
        method=fields.text("method", ""),
        minutes=fields.minutes("minutes") if fields.has("minutes") else (0, 0, 0),
        roles=fields.texts("roles", ()),
        families=fields.choices("families", Family, ()),
        kinds=fields.texts("kinds", ()),
        only_with=fields.text("only_with", ""),
        origin=_origin(fields),
    )
    fields.close()
    if not interval.method and not fields.has("minutes"):
        fields.note("minutes", "needed where no method says them")
    return interval


def build_setting(_code: str, fields: Fields) -> Decimal:
    """Build one figure of settings.yaml; its note and unit are for whoever reads the file."""
    _origin(fields)
    value = fields.number("value")
    fields.text("unit", "")
    fields.text("note")
    fields.close()
    return value
