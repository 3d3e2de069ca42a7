import pytest

from inventory.catalog.schema import Severity
from inventory.rules.diagnose import Diagnosis, PlayedNotes, Prediction, Survey, UnknownNotesError, diagnose
from inventory.rules.diagnose.suspects import Evidence
from inventory.rules.facts import FindingFact
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart, make_diagnosis, make_report


def fault(name: str, notes: str, *, dead: str = "", weak: str = "", order: int = 0) -> Prediction:
    """Return a fault at the bell, by what it spoils of a trumpet."""
    return Prediction(
        FindingFact("bell", name, Severity.LIGHT),
        frozenset(notes.split()),
        (order, 0, 0, 0),
        dead=frozenset(dead.split()),
        weak=frozenset(weak.split()),
    )


def ranking(played: PlayedNotes, *faults: Prediction) -> Diagnosis:
    return diagnose(
        played,
        kind=KINDS["trumpet"],
        chart=make_chart("trumpet"),
        faults=CATALOG.faults,
        surveyed=lambda _: Survey(tuple(faults), ()),
        level="first_year",
    )


def names(found: Diagnosis) -> list[str]:
    return ["+".join(cause.fault for cause in one.causes) for one in found.suspects]


def ranks(found: Diagnosis) -> list[int]:
    return [one.rank for one in found.suspects]


C_D_E = PlayedNotes(failed=("C4", "D4", "E4"))


def test_a_note_left_over_weighs_two_that_should_have_failed():
    """By hand: two left over 2 x 2 = 4, one left over and two too many 2 + 2 = 4, one and one 3, five too many 5."""
    found = ranking(
        C_D_E,
        fault("two_left", "C4"),
        fault("one_left_two_extra", "C4 D4 F4 G4"),
        fault("one_left_one_extra", "C4 D4 F4"),
        fault("five_extra", "C4 D4 E4 F4 G4 A4 B4 C5"),
    )
    singles = [name for name in names(found) if "+" not in name]
    assert singles == ["one_left_one_extra", "one_left_two_extra", "two_left", "five_extra"]
    best = found.suspects[0]
    assert (best.explains, best.unexplained, best.extra) == (("C4", "D4"), ("E4",), ("F4",))


def at(part: str, place: str = "") -> Prediction:
    return Prediction(FindingFact(part, "pad_leak", Severity.SEVERE, place), frozenset({"C4"}), (0, 0, 0, 0))


@pytest.mark.parametrize(
    ("causes", "is_named"),
    [
        ((at("pads", "G_pad"),), True),
        ((at("upper_tenon"),), True),  # a joint has no places: the part itself is named
        ((at("pads", "A_pad"),), False),
        ((at("pads", "A_pad"), at("pads", "G_pad")), True),  # one of two is enough
    ],
)
def test_the_descending_rule_names_a_cause_by_its_place_or_its_part(causes, is_named):
    evidence = Evidence(failed=frozenset({"C4"}), weak=frozenset(), played=("C4",), tells_weak=False)
    named = frozenset({"G_pad", "upper_tenon"})
    assert evidence.explained_by(causes, named=named).is_named is is_named


def test_a_second_cause_weighs_three():
    """By hand: a and b together 3; one that also spoils three good notes 3, with fewer causes; four good notes 4."""
    a, b = fault("a", "C4 D4"), fault("b", "E4")
    assert names(ranking(C_D_E, a, b, fault("three_extra", "C4 D4 E4 F4 G4 A4"))) == ["a", "three_extra", "a+b", "b"]
    four = ranking(C_D_E, a, b, fault("four_extra", "C4 D4 E4 F4 G4 A4 B4"))
    assert names(four) == ["a", "a+b", "four_extra", "b"]
    assert ranks(four) == [1, 2, 3, 4]


def test_equal_suspects_share_a_rank_and_the_likelier_stands_first():
    found = ranking(PlayedNotes(failed=("C4",)), fault("later", "C4", order=2), fault("sooner", "C4", order=1))
    assert (names(found), ranks(found)) == (["sooner", "later"], [1, 1])
    assert [one.ties for one in found.suspects] == [1, 1]


def test_where_weak_and_dead_are_told_apart_the_wrong_degree_ranks_behind():
    dead, weak = fault("dead", "C4", dead="C4"), fault("weak", "C4", weak="C4")
    assert ranks(ranking(PlayedNotes(failed=("C4",)), weak, dead)) == [1, 1]
    assert names(ranking(PlayedNotes(failed=("C4",), tells_weak=True), weak, dead)) == ["dead", "weak"]
    assert names(ranking(PlayedNotes(weak=("C4",), tells_weak=True), dead, weak)) == ["weak", "dead"]


def test_what_touches_no_bad_note_is_no_suspect_and_pairs_wait_for_a_misfit():
    found = ranking(PlayedNotes(failed=("C4", "D4")), fault("all", "C4 D4"), fault("c", "C4"), fault("g", "G4"))
    assert names(found) == ["all", "c"]


def test_a_pair_takes_the_likeliest_of_the_faults_that_spoil_the_same_notes():
    odd, usual = fault("odd", "C4", order=5), fault("usual", "C4", order=1)
    assert "usual+other" in names(ranking(PlayedNotes(failed=("C4", "G4")), odd, usual, fault("other", "G4", order=3)))


def test_sharp_low_notes_point_to_the_third_slide():
    best = make_diagnosis("trumpet", "C#4", "D4").suspects[0]
    assert (best.part, best.fault, best.rank) == ("third_valve_slide", "slide_seized", 1)
    assert best.explains == ("C#4", "D4")
    assert best.extra == best.unexplained == ()
    assert best.test


def test_a_note_may_be_spelled_the_other_way():
    assert make_diagnosis("trumpet", "Db4", "D4") == make_diagnosis("trumpet", "C#4", "D4")
    assert make_diagnosis("trumpet", "Db4").failed == ("C#4",)


def test_equal_explanations_say_so():
    found = make_diagnosis("trumpet", "C#4", "D4")
    first = [suspect for suspect in found.suspects if suspect.rank == 1]
    assert all(suspect.ties == len(first) - 1 for suspect in first)
    assert len({suspect.test for suspect in first}) == len(first)


def test_what_no_single_fault_explains_is_explained_by_two():
    first = set(make_report("bell_kit", "bars_naturals_C5:bar_cracked:severe").lost)
    second = set(make_report("bell_kit", "bars_accidentals_Bb4:bar_cracked:severe").lost)
    found = make_diagnosis("bell_kit", *(first | second))
    whole = [suspect for suspect in found.suspects if len(suspect.causes) == 1 and not suspect.unexplained]
    assert all(len(suspect.extra) == 25 for suspect in whole)  # something under every bar
    best = next(suspect for suspect in found.suspects if len(suspect.causes) == 2)
    assert best.unexplained == best.extra == ()
    assert {cause.place for cause in best.causes} == {"C5", "Bb4"}
    assert any(suspect.unexplained for suspect in found.suspects if len(suspect.causes) == 1)


def test_the_range_tested_is_the_least_that_holds_the_failed_notes():
    assert make_diagnosis("trumpet", "D4").level == "first_year"
    assert make_diagnosis("trumpet", "F5").level == "second_year"


@pytest.mark.parametrize("note", ["H4", "C9", "", "drum"])
def test_an_unknown_note_is_refused_with_the_known_ones(note):
    with pytest.raises(UnknownNotesError, match=r"F#3, G3, Ab3"):
        make_diagnosis("trumpet", "C4", note)


def test_a_kind_without_notes_refuses_every_note():
    with pytest.raises(UnknownNotesError, match="no chart of notes"):
        make_diagnosis("snare_kit", "C4")


def test_nothing_failed_suspects_nothing():
    found = make_diagnosis("trumpet")
    assert found.suspects == found.hints == ()


def test_notes_that_were_not_played_do_not_clear_a_suspect():
    """A tester who plays a triad hears nothing of the notes between."""
    triad = ("C4", "E4", "G4", "C5")
    found = make_diagnosis("trumpet", "E4", tried=triad)
    assert found.tried == triad
    best = {(one.part, one.place) for one in found.suspects if one.rank == 1}
    assert {("piston", "1"), ("piston", "2")} <= best
    assert all(set(one.extra) <= set(triad) for one in found.suspects)
    whole = make_diagnosis("trumpet", "E4")
    assert whole.tried == tuple(note.written for note in make_report("trumpet").notes)
    assert not any(one.rank == 1 and one.place in {"1", "2"} and one.extra == () for one in whole.suspects)


def test_a_note_that_failed_counts_as_played_though_nobody_said_so():
    assert make_diagnosis("trumpet", "D4", weak=["E4"], tried=["Gb4"]).tried == ("D4", "E4", "F#4")


def test_the_range_is_the_least_that_holds_what_was_played_too():
    assert make_diagnosis("trumpet", "D4", tried=["D4", "G5"]).level == "second_year"


def test_a_weak_note_points_to_a_leak_and_a_dead_one_to_what_takes_it():
    """A leak weakens, an open hole or a valve that stays takes the note (the effect table of the catalog)."""
    names = [note.written for note in make_report("trombone").notes]
    dead, faint = make_diagnosis("trombone", *names, weak=[]), make_diagnosis("trombone", weak=names)
    assert dead.failed == faint.failed == tuple(names)
    first = {one.fault for one in dead.suspects if one.rank == 1}
    assert "foreign_object" in first
    assert "slide_compression_low" not in first
    assert "slide_compression_low" in {one.fault for one in faint.suspects if one.rank == 1}
    either = {one.fault for one in make_diagnosis("trombone", *names).suspects if one.rank == 1}
    assert {"foreign_object", "slide_compression_low"} <= either


def test_a_note_out_of_tune_may_be_called_weak_or_failed():
    for called in ({"failed": ("C#4", "D4"), "weak": []}, {"failed": (), "weak": ["C#4", "D4"]}):
        best = make_diagnosis("trumpet", *called["failed"], weak=called["weak"]).suspects[0]
        assert (best.part, best.fault) == ("third_valve_slide", "slide_seized")


def test_a_slide_that_stops_short_is_said_with_its_position():
    """Seventh position alone fails where the slide stops at sixth; published positions of a trombone."""
    for failed, position in ((["B2"], 6), (["B2", "C3"], 5)):
        best = make_diagnosis("trombone", *failed).suspects[0]
        assert best.causes[0].detail == f"position {position}"
        assert best.extra == best.unexplained == ()


def test_a_valve_that_stays_down_is_suspected_by_the_notes_that_need_it_up():
    names = make_report("trumpet", "piston_2:valve_stuck:severe:down").lost
    best = make_diagnosis("trumpet", *names).suspects
    stuck = next(one for one in best if (one.place, one.fault) == ("2", "valve_stuck"))
    assert stuck.rank == 1
    assert stuck.causes[0].detail == "down"


def test_an_instrument_without_a_sound_is_looked_at_in_the_order_of_the_trade():
    """Trade: swapped valves, an object in the bore, a missing pad, an open water key, in that order."""
    names = [note.written for note in make_report("trumpet").notes]
    ranked = make_diagnosis("trumpet", *names, weak=[]).suspects
    order = list(dict.fromkeys(one.fault for one in ranked if one.rank == 1))
    assert order[:3] == ["valve_swapped", "foreign_object", "water_key_spring"]


def best_of(code: str, *failed: str) -> set[tuple[str, str, str]]:
    found = make_diagnosis(code, *failed, level="first_year").suspects
    return {(one.place, one.fault, one.causes[0].detail) for one in found if one.rank == 1}


def test_a_note_that_another_fingering_would_give_is_missed_with_the_usual_one():
    """Common practice, no source: whoever plays a scale plays usual fingerings, so that a stuck side key is heard."""
    assert ("side1_Eb", "pad_sticky", "") in best_of("clarinet_bb", "Eb4")
    middle_c = best_of("sax_alto", "C5")
    assert {("B_pad", "pad_sticky", ""), ("small_C_pad", "regulation_off", "link L2")} <= middle_c


def test_a_valve_turned_or_in_the_wrong_casing_is_never_suspected_for_the_notes_of_one_valve():
    """Air passes it up or down: a port that does not meet its tube is heard in every note."""
    names = make_report("trumpet", "piston_2:valve_stuck:severe").lost
    found = make_diagnosis("trumpet", *names).suspects
    assert all(one.extra for one in found if "valve_swapped" in {cause.fault for cause in one.causes})
    assert all(one.fault != "valve_swapped" for one in found if one.rank == 1)
