import pytest

from inventory.catalog.schema import Severity
from inventory.rules.diagnose.parting import Trial, parting_trial
from inventory.rules.facts import FindingFact
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart, make_diagnosis, make_finding, make_report

FIRST, SECOND, THIRD = (f"piston_{valve}:valve_stuck:severe" for valve in (1, 2, 3))


def trial_of(code: str, *spots: str | tuple[str, ...], played: str = "") -> Trial | None:
    """What parts the spots; each is one finding, or the several that it may be."""
    several = [(spot,) if isinstance(spot, str) else spot for spot in spots]
    return parting_trial(
        [tuple((make_finding(code, text),) for text in spot) for spot in several],
        kind=KINDS[code],
        chart=make_chart(code),
        options={},
        faults=CATALOG.faults,
        roles=CATALOG.roles,
        played=frozenset(played.split()),
    )


def every_note(code: str) -> str:
    return " ".join(note.written for level in KINDS[code].levels for note in make_report(code, level=level).notes)


def test_a_note_not_played_yet_parts_two_valves():
    """Standard fingerings: A4 is 1 2, its neighbors G#4 2 3 and Bb4 1; whoever has only played A4 plays one of them next."""
    found = trial_of("trumpet", FIRST, SECOND, played="A4")
    assert (found.written, found.fingering) in {("Ab4", ""), ("Bb4", "")}
    assert found.fails + found.speaks in {(0, 1), (1, 0)}
    usual = {"Ab4": (1,), "Bb4": (0,)}
    assert found.fails == usual[found.written]


def test_where_all_was_played_another_fingering_parts_them():
    """The third valve alone is as long as the first two together (3 semitones): A4 and E4 speak with it (alternates)."""
    found = trial_of("trumpet", THIRD, SECOND, played=every_note("trumpet"))
    assert found.fingering
    assert "2" in found.fingering or "3" in found.fingering
    assert ("3" in found.fingering) == (found.fails == (0,))
    assert ("2" in found.fingering) == (found.fails == (1,))


def test_what_harms_the_same_notes_is_not_parted_by_playing():
    assert trial_of("trumpet", SECOND, "valve_casing_2:valve_stuck:severe") is None
    assert trial_of("snare_kit", "batter_head:head_worn:severe", "batter_hoop:hoop_bent:severe") is None


def test_a_spot_whose_faults_differ_tells_neither_way():
    """A register vent that leaks spoils the low notes, one that is clogged the high ones: no single note tells both."""
    vent = ("tone_holes_register_vent:vent_clogged:severe", "register_key_register_vent:pad_leak:severe")
    found = trial_of("clarinet_bb", vent, "lower_keys_E_B_pad:pad_leak:severe", "lower_keys_F_C_pad:pad_leak:severe")
    assert 0 not in found.fails + found.speaks or len(found.fails + found.speaks) == 3


def test_of_three_the_fewest_are_left_untold_and_the_nearest_note_is_taken():
    found = trial_of("trumpet", FIRST, SECOND, THIRD, played="C4")
    assert len(found.fails) + len(found.speaks) == 3
    assert found.written in {"B3", "Bb3", "C#4", "D4"}  # a step or two off; 2, 1, 123, 13


@pytest.mark.parametrize("code", ["flute", "clarinet_bb", "sax_alto", "trumpet", "horn_double"])
def test_what_the_trial_says_is_what_playing_with_each_fault_gives(code):
    """Held against the report of what still plays with the usual fingerings alone."""
    names = [note.written for note in make_report(code).notes]
    parted = 0
    for name in names[:: max(1, len(names) // 6)]:
        first = [one.causes for one in make_diagnosis(code, name, tried=[name]).suspects if one.rank == 1]
        spots = [tuple(cause.finding for cause in causes) for causes in first[:: max(1, len(first) // 3)]][:3]
        found = parting_trial(
            [(spot,) for spot in spots], kind=KINDS[code], chart=make_chart(code), options={},
            faults=CATALOG.faults, roles=CATALOG.roles, played=frozenset({name}),
        )  # fmt: skip
        if found is None or found.fingering:
            continue
        parted += 1
        assert found.written != name
        for number, findings in enumerate(spots):
            level = next(one for one in KINDS[code].levels if found.written in notes_of(code, one))
            report = make_report(code, *findings, level=level, standard_only=True)
            spoiled = next(note.is_spoiled for note in report.notes if note.written == found.written)
            assert spoiled is (number in found.fails), (name, found, findings)
    assert parted


def notes_of(code: str, level: str) -> list[str]:
    return [note.written for note in make_report(code, level=level).notes]


def test_a_cause_keeps_how_bad_it_would_have_to_be():
    cause = make_diagnosis("trumpet", "C#4", "D4").suspects[0].causes[0]
    assert cause.finding == FindingFact("third_valve_slide", "slide_seized", cause.severity)
    assert isinstance(cause.severity, Severity)
