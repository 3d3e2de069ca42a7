"""A trade of a few parts and methods, small enough to check a plan of it by eye."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from typing import Any

from inventory.catalog.schema import (
    Bath,
    Catalog,
    Cause,
    Effect,
    Family,
    Fault,
    Guard,
    Hazard,
    Kind,
    Ladder,
    Method,
    OrderRule,
    Part,
    PartNeed,
    PlayingModel,
    Remedy,
    Role,
    Rung,
    Severity,
    Skill,
    Wet,
)
from inventory.rules.facts import FindingFact
from repairs.rules.facts import AttemptFact, BenchFact, Outcome
from repairs.rules.plan import Plan, plan_work

ZERO = Decimal(0)
ALL_TOOLS = frozenset({"mallet", "tub", "torch", "knife", "heat_gun", "balls"})


def make_part(code: str, role: str, **overrides: Any) -> Part:
    values: dict[str, Any] = {"name": code.replace("_", " "), "wet": Wet.OK, "bath": Bath.STAY}
    return Part(code=code, role=role, **(values | overrides))


def make_method(code: str, **overrides: Any) -> Method:
    values: dict[str, Any] = {
        "name": code.replace("_", " ").capitalize(),
        "fixes": (),
        "minutes": (5, 10, 20),
        "wait_h": ZERO,
        "parts": (),
        "tools": (),
        "skill": Skill.BASIC,
        "hazards": (),
        "phase": 7,
        "tags": (),
    }
    return Method(code=code, **(values | overrides))


def make_rung(code: str, **overrides: Any) -> Rung:
    values: dict[str, Any] = {
        "name": code.replace("_", " ").capitalize(),
        "p": 0.3,
        "minutes": (2, 4, 6),
        "wait_h": ZERO,
        "harm": 0.01,
        "force": 0,
        "skill": Skill.BASIC,
        "tags": (),
    }
    return Rung(code=code, **(values | overrides))


def make_fault(code: str, effect: Effect = Effect.BENDS_PITCH, **overrides: Any) -> Fault:
    values: dict[str, Any] = {
        "name": code.replace("_", " "),
        "effects": dict.fromkeys(Severity, (effect,)),
        "words": {},
        "test": "look",
        "accept": "none",
        "cause": Cause.EITHER,
    }
    return Fault(code=code, **(values | overrides))


def make_kind(**overrides: Any) -> Kind:
    values: dict[str, Any] = {
        "code": "shop_horn",
        "name": "Shop horn",
        "aliases": (),
        "family": Family.BRASS,
        "layout": "small_brass",
        "model": PlayingModel.PISTON,
        "chart": "",
        "key": "Bb",
        "sounds": -2,
        "clef": "treble",
        "sounding": None,
        "first_year": None,
        "levels": {},
        "starts": "",
        "prices": {"student": (Decimal(300), Decimal(600))},
        "life_years": (15, 20),
        "upkeep": Decimal(25),
        "repair_limit": Decimal("0.4"),
        "accessories": (),
        "options": (),
        "parts": (
            make_part("leadpipe", "leadpipe"),
            make_part("main_slide", "slide", bath=Bath.OFF),
            make_part("brace", "brace"),
            make_part("felt", "felt", wet=Wet.NO, bath=Bath.OFF),
            make_part("bow", "bow"),
            make_part("water_key", "water_key", wet=Wet.BRIEF),
            make_part("finish", "finish"),
            make_part("case", "case", wet=Wet.NO, bath=Bath.NONE),
        ),
        "play_test": "brass",
        "care": (),
    }
    return Kind(**(values | overrides))


SLIDE_RUNGS = (
    make_rung("hand", p=0.3, minutes=(1, 2, 4), force=0),
    make_rung(
        "soak", p=0.25, minutes=(3, 5, 8), force=1, tags=("wet",), needs=("take_felts_out",), shared_with="bath"
    ),
    make_rung("oil", p=0.3, minutes=(2, 4, 8), wait_h=Decimal(12), force=1, tags=("oil",), harm=0.005),
    make_rung("taps", p=0.2, minutes=(3, 6, 10), force=2, tags=("force",), tools=("mallet",), harm=0.05),
    make_rung("torch", p=0.5, minutes=(15, 30, 60), force=4, tags=("flame", "heat"), skill=Skill.ADVANCED, harm=0.1),
    make_rung(
        "shop", p=0.95, minutes=(0, 0, 0), wait_h=Decimal(240), force=5, skill=Skill.SPECIALIST,
        fee=(Decimal(60), Decimal(120)),
    ),
)  # fmt: skip


def make_catalog(**overrides: Any) -> Catalog:
    methods = (
        make_method("take_felts_out", phase=2, tags=("opens",), whole=True, roles=("felt",), minutes=(5, 8, 15)),
        make_method("free_slide", phase=2, ladder="slide", fixes=("stuck",), minutes=(5, 30, 120)),
        make_method(
            "bath", phase=4, tags=("wet", "clean"), whole=True, needs=("take_felts_out",), fixes=("lime", "stain"),
            setup="bath", wait_h=Decimal(2), tools=("tub",), minutes=(25, 40, 60),
            parts=(PartNeed(code="soap", price=(Decimal("0.5"), Decimal(1))),),
        ),
        make_method(
            "solder_brace", phase=5, tags=("flame", "heat", "solder"), needs=("bath",), fixes=("loose",), setup="torch",
            skill=Skill.ADVANCED, tools=("torch",), hazards=("heat",), minutes=(15, 30, 60),
        ),
        make_method("raise_dent", phase=6, tags=("dent", "force"), fixes=("dent",), tools=("balls",)),
        make_method("new_pipe", phase=6, tags=("solder",), skill=Skill.SPECIALIST, fixes=("dent", "rot"),
                    fee=(Decimal(80), Decimal(140)), wait_h=Decimal(240)),
        make_method("new_cork", phase=7, tags=("cork",), fixes=("leak",), tools=("knife",), hazards=("sharp",)),
        make_method("descale", phase=4, tags=("wet", "chemical"), fixes=("crust",)),
        make_method("grease", phase=8, tags=("oil", "lubricate"), fixes=("dry",)),
        make_method("seat_pad", phase=7, tags=("pad",), fixes=("pad_leak",)),
        make_method("leak_test", phase=9, tags=("test",), whole=True, roles=("pad",)),
        make_method("play_test", phase=9, tags=("test",), whole=True),
    )  # fmt: skip
    faults = ("stuck", "lime", "loose", "dent", "rot", "leak", "crust", "dry", "pad_leak")
    values: dict[str, Any] = {
        "kinds": {"shop_horn": make_kind()},
        "roles": {"felt": Role(code="felt", name="felt", faults=("missing_part",), missing=Effect.BENDS_PITCH)},
        "faults": {code: make_fault(code) for code in faults}
        | {"stain": make_fault("stain", Effect.LOOKS_ONLY), "scratch": make_fault("scratch", Effect.LOOKS_ONLY)},
        "remedies": (
            Remedy(fault="stuck", roles=("slide",), methods=("free_slide",)),
            Remedy(fault="lime", roles=(), methods=("bath",)),
            Remedy(fault="stain", roles=(), methods=("bath",)),
            Remedy(fault="loose", roles=(), methods=("solder_brace",)),
            Remedy(fault="dent", roles=(), methods=("raise_dent", "new_pipe")),
            Remedy(fault="rot", roles=(), methods=("new_pipe",)),
            Remedy(fault="leak", roles=(), methods=("new_cork",)),
            Remedy(fault="crust", roles=(), methods=("descale",)),
            Remedy(fault="dry", roles=(), methods=("grease",)),
            Remedy(fault="pad_leak", roles=(), methods=("seat_pad",)),
        ),
        "methods": {method.code: method for method in methods},
        "ladders": {
            "slide": Ladder(
                code="slide", name="Stuck slide", roles=("slide",), rungs=SLIDE_RUNGS, stop_if=("the crook goes oval",)
            )
        },
        "guards": (Guard(fault="rot", forbids=("force",), because="rotted tube tears when it is forced"),),
        "order_rules": (
            OrderRule("felts_out", "Felts out before water", ("opens",), ("wet", "oil"), "felts swell"),
            OrderRule("clean_solder", "Clean before solder", ("clean",), ("solder",), "dirt stops solder"),
            OrderRule("solder_dent", "Solder before dents", ("solder",), ("dent",), "heat loosens joints"),
            OrderRule("wet_cork", "Water before corks", ("wet",), ("cork", "pad"), "they soak it up"),
            OrderRule("dry_oil", "Oil last", ("wet", "solder", "dent"), ("lubricate",), "oil traps grit"),
        ),
        "hazards": {
            "heat": Hazard("heat", "Heat", "know what is behind the part", acknowledge=True),
            "sharp": Hazard("sharp", "Blades", "cut away from the hand", acknowledge=False),
        },
        "consumables": {},
        "tools": {},
        "play_tests": {},
        "settings": {},
    }
    return Catalog(**(values | overrides))


def make_bench(**overrides: Any) -> BenchFact:
    values: dict[str, Any] = {
        "code": "school",
        "tools": ALL_TOOLS,
        "methods": frozenset({"solder_brace", "free_slide"}),
        "has_torch": True,
        "has_chemicals": True,
        "rate_amount": Decimal(30),
    }
    return BenchFact(**(values | overrides))


def finding(part: str, fault: str, severity: Severity = Severity.MODERATE, place: str = "") -> FindingFact:
    return FindingFact(part=part, fault=fault, severity=severity, place=place)


def attempt(key: str, outcome: Outcome, minutes: float | None = None) -> AttemptFact:
    """Return an attempt from its step key."""
    method, part, place, rung, *_ = (*key.split(":"), "", "", "", "")
    return AttemptFact(step_key=key, method=method, rung=rung, part=part, place=place, outcome=outcome, minutes=minutes)


def plan_of(*findings: FindingFact, attempts: Iterable[AttemptFact] = (), **overrides: Any) -> Plan:
    values: dict[str, Any] = {"kind": make_kind(), "catalog": make_catalog(), "bench": make_bench()}
    return plan_work(findings=findings, attempts=tuple(attempts), **(values | overrides))


def keys(plan: Plan) -> list[str]:
    return [step.key for step in plan.steps]


def with_methods(catalog: Catalog, *methods: Method) -> Catalog:
    return replace(catalog, methods={**catalog.methods, **{method.code: method for method in methods}})
