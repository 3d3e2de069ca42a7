"""Walks the whole catalog: what every part, fault, method and ladder must have for the rules to work with them.

The counts and relations are those the trade's own lists give (common practice, no source); the graph checks use
networkx as an independent judge of order.
"""

from __future__ import annotations

import math
from decimal import Decimal
from itertools import pairwise, product

import networkx as nx
import pytest

from inventory.catalog.load import catalog
from inventory.catalog.names import full_code, methods_for, resolve_part
from inventory.catalog.schema import Effect, Severity, Skill
from inventory.rules.pitch import midi_of

TRADE = catalog()
NEEDED_KINDS = [
    "flute",
    "clarinet_bb",
    "clarinet_bass",
    "sax_alto",
    "sax_tenor",
    "sax_baritone",
    "oboe",
    "bassoon",
    "trumpet",
    "cornet",
    "horn_single",
    "horn_double",
    "mellophone",
    "trombone",
    "trombone_f",
    "baritone_marching",
    "euphonium",
    "tuba",
    "sousaphone",
    "snare_kit",
    "bell_kit",
    "bass_drum_concert",
    "timpani_set",
    "marimba",
]
KINDS = list(TRADE.kinds.values())
BEGUN_IN_FIRST_YEAR = [kind for kind in KINDS if kind.starts == "first year" and kind.sounding]


@pytest.mark.parametrize("code", NEEDED_KINDS)
def test_every_kind_a_school_lends_is_complete(code):
    kind = TRADE.kinds[code]
    assert len(kind.parts) >= 8
    assert kind.aliases
    assert kind.care
    assert kind.prices["student"][0] > 0
    assert kind.prices["student"][1] <= kind.prices["intermediate"][1]
    assert kind.life_years[0] < kind.life_years[1]
    assert Decimal("0.3") <= kind.repair_limit <= Decimal("0.65")
    assert any(accessory.essential for accessory in kind.accessories) or kind.family == "percussion"


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_part_codes_of_a_kind_are_unique_and_every_code_finds_its_part(kind):
    codes = [full_code(part, place) for part in kind.parts for place in (None, *part.places)]
    assert len(set(codes)) == len(codes)
    for part in kind.parts:
        assert resolve_part(kind, part.code) == (part, None)
        for place in part.places:
            assert resolve_part(kind, full_code(part, place).upper()) == (part, place)


@pytest.mark.parametrize("kind", BEGUN_IN_FIRST_YEAR, ids=lambda kind: kind.code)
def test_a_first_year_range_lies_within_what_the_instrument_sounds(kind):
    assert kind.first_year is not None
    assert kind.sounding is not None
    low, high = (midi_of(note) for note in kind.sounding)
    for note in (*kind.first_year, *(note for span in kind.levels.values() for note in span)):
        assert low <= midi_of(note) + kind.sounds <= high + 2, note


@pytest.mark.parametrize("role", TRADE.roles.values(), ids=lambda role: role.code)
def test_every_role_can_have_faults_and_says_what_its_absence_does(role):
    assert len(role.faults) >= 2
    assert len(set(role.faults)) == len(role.faults)
    assert role.missing in Effect


@pytest.mark.parametrize("fault", TRADE.faults.values(), ids=lambda fault: fault.code)
def test_every_fault_has_effects_words_a_test_and_a_role(fault):
    assert set(fault.effects) == set(Severity)
    assert len(set(fault.words.values())) == 3
    assert all(0 < len(words) <= 60 for words in fault.words.values())
    assert len(fault.test) > 8
    assert len(fault.accept) > 8
    assert any(fault.code in TRADE.faults_at(part) for kind in KINDS for part in kind.parts)


@pytest.mark.parametrize("fault", TRADE.faults.values(), ids=lambda fault: fault.code)
def test_a_worse_severity_keeps_what_the_lighter_one_does_or_does_worse(fault):
    """Common practice, no source: what is worse to see is never better to play, to move or to hand out."""
    for severity, effects in fault.effects.items():
        sorts = [effect.sort for effect in effects]
        assert len(set(sorts)) == len(sorts), "one effect of each sort"
        assert effects == (Effect.LOOKS_ONLY,) or Effect.LOOKS_ONLY not in effects, severity
    for lighter, worse in pairwise(Severity):
        for effect in fault.effects[lighter]:
            if effect is not Effect.LOOKS_ONLY:
                assert any(
                    one.sort == effect.sort and list(Effect).index(one) >= list(Effect).index(effect)
                    for one in fault.effects[worse]
                ), (worse, effect)


def test_one_effect_may_be_written_without_a_list():
    assert TRADE.faults["lacquer_wear"].effects[Severity.SEVERE] == (Effect.LOOKS_ONLY,)


def test_what_is_heard_is_not_looks_only():
    """A buzz at full volume is a limit; a joint that only turns too easily is not, one that rocks is. Common practice, no source."""
    assert TRADE.faults["rattle"].effects[Severity.LIGHT] == (Effect.BENDS_PITCH,)
    assert TRADE.faults["tenon_loose"].effects[Severity.LIGHT] == (Effect.LOOKS_ONLY,)
    assert TRADE.faults["tenon_loose"].effects[Severity.MODERATE] == (Effect.BENDS_PITCH,)
    assert TRADE.faults["red_rot"].effects[Severity.SEVERE] == (Effect.RISKS, Effect.BENDS_PITCH)
    assert TRADE.faults["red_rot"].worst(Severity.SEVERE) is Effect.BENDS_PITCH


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.code)
def test_every_fault_of_every_part_has_a_method_that_fixes_it(kind):
    for part, severity in product(kind.parts, Severity):
        for fault in (*TRADE.faults_at(part), "missing_part"):
            methods = methods_for(catalog=TRADE, kind=kind, fault=fault, role=part.role, severity=severity)
            assert methods, (part.code, fault, severity)
            assert set(methods) <= set(TRADE.methods)


def test_every_method_named_as_a_remedy_says_that_it_fixes_the_fault():
    silent = {
        (remedy.fault, method)
        for remedy in TRADE.remedies
        for method in remedy.methods
        if remedy.fault not in TRADE.methods[method].fixes
    }
    assert not silent


@pytest.mark.parametrize("method", TRADE.methods.values(), ids=lambda method: method.code)
def test_every_method_can_be_planned(method):
    low, likely, high = method.minutes
    assert low <= likely <= high
    assert method.tags or method.code == "shop_trip"  # the trip is ordered by what waits for the shop
    assert 1 <= len(method.watch) <= 4
    for before in (*method.needs, *method.after):
        assert TRADE.methods[before].phase <= method.phase
    for need in method.parts:
        assert need.low <= need.high
        assert need.quantity > 0
    if method.skill is Skill.SPECIALIST:
        assert method.fee is not None


def test_the_order_rules_leave_an_order_and_never_put_a_later_phase_first():
    graph: nx.DiGraph[str] = nx.DiGraph()
    for rule in TRADE.order_rules:
        if rule.between:
            continue
        for one, other in product(TRADE.methods.values(), repeat=2):
            forward = set(one.tags) & set(rule.first) and set(other.tags) & set(rule.then)
            backward = set(other.tags) & set(rule.first) and set(one.tags) & set(rule.then)
            if one is not other and forward and not backward:
                graph.add_edge(one.code, other.code)
                assert one.phase <= other.phase, (rule.code, one.code, other.code)
    for method in TRADE.methods.values():
        graph.add_edges_from((before, method.code) for before in (*method.needs, *method.after))
    assert graph.number_of_edges() > 500
    assert nx.is_directed_acyclic_graph(graph)


@pytest.mark.parametrize(
    ("first", "then"),
    [
        ("photo_record", "free_slide"),
        ("free_slide", "dent_ball"),
        ("remove_felts", "soap_bath_brass"),
        ("soap_bath_brass", "solder_brace"),
        ("solder_brace", "dent_ball"),
        ("dent_ball", "pad_replace_one"),
        ("dent_ball", "polish_buff"),
        ("soap_bath_brass", "water_key_cork"),
        ("solder_brace", "casing_true"),
        ("spring_needle", "regulate"),
        ("screw_replace", "regulate"),
        ("tenon_cork", "oil_rotor"),
        ("pad_replace_one", "leak_test"),
        ("leak_test", "play_test"),
        ("oil_piston", "play_test"),
        ("free_piston", "remove_pistons"),
        ("free_cap", "remove_felts"),
    ],
)
def test_the_trade_does_one_before_the_other(first, then):
    """The order rules of the bench, common practice, no source."""
    one, other = TRADE.methods[first], TRADE.methods[then]
    assert any(
        set(one.tags) & set(rule.first) and set(other.tags) & set(rule.then)
        for rule in TRADE.order_rules
        if not rule.between
    )


def test_no_flame_follows_oil_without_cleaning():
    rule = next(rule for rule in TRADE.order_rules if rule.between)
    assert "oil" in rule.first
    assert "flame" in rule.then
    assert "clean" in rule.between


@pytest.mark.parametrize("ladder", TRADE.ladders.values(), ids=lambda ladder: ladder.code)
def test_a_ladder_climbs_from_the_hand_to_the_specialist(ladder):
    forces = [rung.force for rung in ladder.rungs]
    assert forces == sorted(forces)
    assert ladder.rungs[-1].skill is Skill.SPECIALIST
    assert ladder.rungs[-1].fee is not None
    assert ladder.stop_if
    for rung in ladder.rungs:
        assert 0 < rung.p < 1
        assert 0 <= rung.harm < 0.5
        assert sorted(rung.minutes) == list(rung.minutes)
    assert any(method.ladder == ladder.code for method in TRADE.methods.values())


def test_a_flame_rung_washes_the_oil_off_first():
    for ladder in TRADE.ladders.values():
        for rung in ladder.rungs:
            if "flame" in rung.tags:
                assert any("clean" in TRADE.methods[need].tags for need in rung.needs), (ladder.code, rung.code)


def test_felts_and_pistons_are_out_before_a_slide_is_soaked_oiled_or_heated():
    """Common practice: they swell or char; the first pull by hand needs the piston still in."""
    for code in ("tuning_slide", "valve_slide"):
        first, *later = TRADE.ladders[code].rungs
        assert not first.needs
        for rung in later:
            if {"wet", "oil", "heat"} & set(rung.tags):
                assert {"remove_felts", "remove_pistons"} <= set(rung.needs), (code, rung.code)


def test_red_rot_forbids_force_and_flame():
    tags = {tag for guard in TRADE.guards if guard.fault == "red_rot" for tag in guard.forbids}
    assert {"force", "flame"} <= tags


def test_a_broken_brace_puts_off_force_wherever_it_reaches_the_brace():
    guard = next(guard for guard in TRADE.guards if guard.fault == "solder_broken")
    assert guard.scope == "reach"
    assert guard.waits
    assert "force" in guard.forbids


def test_parts_reach_and_braces_join_only_parts_of_their_own_walk():
    for kind in TRADE.kinds.values():
        of_layout = {part.code for other in TRADE.kinds.values() if other.layout == kind.layout for part in other.parts}
        for part in kind.parts:
            said = {*part.reaches, *part.joins, *(code for place in part.places for code in place.joins)}
            assert said <= of_layout, (kind.code, part.code)


def test_normal_wear_and_damage_are_told_apart_as_loan_agreements_do():
    """Common practice in loan agreements, no source."""
    for fault in ("lacquer_wear", "pad_torn", "tenon_cork_bad", "felt_missing", "key_noise", "spring_weak"):
        assert TRADE.faults[fault].cause == "wear"
    for fault in ("dent_small", "key_bent", "bell_bent", "case_broken", "missing_part"):
        assert TRADE.faults[fault].cause == "damage"


def test_hot_work_asks_for_an_acknowledgement():
    for hazard in ("heat", "lead", "chem", "fire", "fume"):
        assert TRADE.hazards[hazard].acknowledge
    for method in TRADE.methods.values():
        if "flame" in method.tags:
            assert {"heat", "fire"} <= set(method.hazards), method.code


def test_the_catalog_is_read_once_a_process():
    assert catalog() is catalog()


def test_only_combinations_that_the_third_slide_puts_right_are_beyond_the_pitch_limit():
    """By tube lengths of 2^(s/12) - 1: 1+2 and 2+3 are 10.6 and 15.5 cents sharp, 1+3 and 1+2+3 are 30.3 and 53.6."""
    lengths = {1: 2 ** (2 / 12) - 1, 2: 2 ** (1 / 12) - 1, 3: 2 ** (3 / 12) - 1}

    def cents(*valves: int, semitones: int) -> float:
        return 1200 * math.log2(2 ** (semitones / 12) / (1 + sum(lengths[valve] for valve in valves)))

    limit = float(TRADE.settings["pitch_limit_cents"])
    assert cents(1, 2, semitones=3) < cents(2, 3, semitones=4) < limit
    assert limit < cents(1, 3, semitones=5) < cents(1, 2, 3, semitones=6)


def test_a_dented_slide_leg_is_explained_in_words_that_are_true_of_every_slide():
    """An inner tube of a trombone has no crook of its own to unsolder (from memory)."""
    guard = next(guard for guard in TRADE.guards if guard.fault == "dent_slide_leg")
    assert guard.because == "A dented leg does not come out by pulling: the dent is raised first."
