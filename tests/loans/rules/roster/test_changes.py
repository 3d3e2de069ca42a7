"""What a roster would change. Who is matched with whom is our own choice, no source."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loans.rules.roster.changes import Person, PersonGuardian, changes_of, merged_guardians
from loans.rules.roster.people import GuardianRow, Roster, StudentRow

LUZ = GuardianRow("g-1", "Luz Rivera", "luz@home.example", "555-0101")
KEPT_LUZ = PersonGuardian("Luz Rivera", "luz@home.example", "555-0101", sourced_id="g-1")


def student(key="s-1", name="Ana Rivera", number="40017", grade="9", **more):
    given_name, family = name.split(" ", 1)
    facts = {"guardians": [], "classes": ["band-2"]} | more
    return StudentRow(key, 3, name, f"{family}, {given_name}", number, grade, **facts)


def roster(*students, is_bulk=True, guardians=(), **more):
    rows = {one.sourced_id or f"row-{one.row}": one for one in students}
    enrolled = {key: list(one.classes) for key, one in rows.items() if one.classes}
    facts = {"enrolled": enrolled, "rows": dict.fromkeys(enrolled, 2)} | more
    return Roster(is_bulk=is_bulk, students=rows, guardians={one.sourced_id: one for one in guardians}, **facts)


def person(pk=1, name="Ana Rivera", number="40017", grade="9", sourced_id="s-1", **more):
    given_name, family = name.split(" ", 1)
    facts = {"classes": frozenset({"band-2"})} | more
    return Person(pk, name, f"{family}, {given_name}", number, grade, sourced_id, **facts)


def test_a_new_student_with_guardian():
    changes = changes_of(roster(student(guardians=["g-1"]), guardians=[LUZ]), [])
    assert [one.person for one in changes.new] == [
        Person(0, "Ana Rivera", "Rivera, Ana", "40017", "9", "s-1", guardians=(KEPT_LUZ,))
    ]
    assert (changes.new_guardians, changes.joins) == (1, [("s-1", "band-2")])
    assert not changes.is_nothing


def test_the_same_again_changes_nothing():
    changes = changes_of(roster(student(guardians=["g-1"]), guardians=[LUZ]), [person(guardians=(KEPT_LUZ,))])
    assert changes.is_nothing
    assert changes.same == 1


@pytest.mark.parametrize(
    "kept",
    [
        person(name="Ana Rivera-Hill"),
        person(sourced_id="", number="40017", name="Anna Rivera"),
        person(sourced_id="old-7", number="40017"),
    ],
)
def test_found_again_by_sourced_id_then_by_number(kept):
    changes = changes_of(roster(student()), [kept])
    assert (changes.new, changes.left, changes.twins) == ([], [], [])
    (changed,) = changes.changed
    assert changed.person == person()


def test_who_bears_the_sourced_id_is_preferred_to_who_has_the_number():
    changes = changes_of(roster(student(number="7")), [person(1, number="8"), person(2, number="7", sourced_id="")])
    assert changes.known == {"s-1": 1}
    assert [one.column for one in changes.problems] == ["identifier"]  # two would have it


def test_the_same_name_is_asked_about_and_each_answer_is_taken():
    here = person(5, name="ana  rivera", number="", sourced_id="", classes=frozenset())
    asked = changes_of(roster(student()), [here])
    assert [(one.key, one.pk) for one in asked.twins] == [("s-1", 5)]
    assert asked.new == []
    same = changes_of(roster(student()), [here], answers={"s-1": 5})
    assert (same.twins, same.new, [one.person.pk for one in same.changed]) == ([], [], [5])
    other = changes_of(roster(student()), [here], answers={"s-1": 0})
    assert (other.twins, len(other.new), other.changed) == ([], 1, [])


def test_another_number_is_another_person_whatever_the_name():
    changes = changes_of(roster(student()), [person(5, number="99", sourced_id="")])
    assert (changes.twins, len(changes.new)) == ([], 1)


def test_who_is_gone_from_a_whole_roster_has_left_unless_an_instrument_is_out():
    people = [person(1), person(2, sourced_id="s-2", number="2"), person(3, sourced_id="s-3", number="3", is_out=True)]
    people += [person(4, sourced_id="", number="4"), person(5, sourced_id="s-5", number="5", has_left=True)]
    changes = changes_of(roster(student()), people)
    assert (changes.left, changes.flagged, changes.newly_flagged) == ([2], [3], [3])
    assert changes.ends == [(2, "band-2"), (3, "band-2"), (4, "band-2"), (5, "band-2")]


def test_a_flagged_student_is_flagged_once_and_leaves_when_the_instrument_is_back():
    off = person(3, sourced_id="s-3", number="3", is_out=True, is_off=True, classes=frozenset())
    again = changes_of(roster(student()), [person(1), off])
    assert (again.flagged, again.newly_flagged, again.is_nothing) == ([3], [], True)
    back = changes_of(roster(student()), [person(1), replace(off, is_out=False)])
    assert back.left == [3]


def test_who_comes_back_is_taken_back_but_not_who_was_noted_as_left_by_hand():
    off = changes_of(roster(student()), [person(has_left=True, is_off=True, classes=frozenset())])
    assert [one.is_back for one in off.changed] == [True]
    assert off.joins == [("s-1", "band-2")]
    by_hand = changes_of(roster(student()), [person(has_left=True, classes=frozenset())])
    assert by_hand.is_nothing


def test_changes_delete_whom_they_name_and_nobody_else():
    people = [person(1), person(2, sourced_id="s-2", number="2"), person(3, sourced_id="s-3", number="3", is_out=True)]
    changes = changes_of(roster(is_bulk=False, gone={"s-2", "s-3"}), people)
    assert (changes.left, changes.flagged) == ([2], [3])
    assert changes.ends == [(2, "band-2"), (3, "band-2")]


def test_changes_that_end_the_last_class_take_a_student_off():
    both = person(1, classes=frozenset({"band-2", "band-5"}))
    assert changes_of(roster(is_bulk=False, dropped={("s-1", "band-2")}), [both]).left == []
    changes = changes_of(roster(is_bulk=False, dropped={("s-1", "band-2")}, gone_classes={"band-5"}), [both])
    assert (changes.left, changes.ends) == ([1], [(1, "band-2"), (1, "band-5")])


def test_changes_may_speak_of_guardians_alone():
    people = [person(guardians=(KEPT_LUZ, PersonGuardian("Typed By Hand", contact="shop phone")))]
    moved = changes_of(roster(is_bulk=False, guardians=[replace(LUZ, phone="555-0199")]), people)
    assert [one.phone for one in moved.changed[0].person.guardians] == ["555-0199", ""]
    assert moved.changed_guardians == 1
    gone = changes_of(roster(is_bulk=False, gone={"g-1"}), people)
    assert [one.name for one in gone.changed[0].person.guardians] == ["Typed By Hand"]


def test_a_stranger_enrolled_by_a_file_of_changes_is_a_problem():
    changes = changes_of(roster(is_bulk=False, enrolled={"s-9": ["band-2"]}, rows={"s-9": 4}), [])
    assert [(one.file, one.row, one.column) for one in changes.problems] == [("enrollments.csv", 4, "userSourcedId")]


def test_what_somebody_typed_stays():
    spanish = replace(KEPT_LUZ, language="es", contact="after six", sourced_id="", phone="", email="")
    aunt = PersonGuardian("Aunt May", phone="555-0177")
    gone = PersonGuardian("Old Guardian", sourced_id="g-7")
    assert merged_guardians([LUZ], [aunt, spanish, gone]) == (
        replace(KEPT_LUZ, language="es", contact="after six"),
        aunt,
    )
    blank = changes_of(roster(student(number="", grade="")), [person()])
    assert blank.is_nothing


def test_what_is_no_address_or_number_is_kept_as_another_way_to_reach_them():
    (kept,) = merged_guardians([replace(LUZ, email="n/a", phone="call the office first")], [])
    assert (kept.email, kept.phone, kept.contact) == ("", "", "n/a, call the office first")


def test_a_name_too_long_or_a_number_twice_is_told_at_its_row():
    long = changes_of(roster(student(name="A " + "b" * 120)), [])
    assert [(one.file, one.row, one.column) for one in long.problems] == [("users.csv", 3, "familyName")]
    twice = changes_of(roster(student(), student("s-2", "Ben Okafor")), [])
    assert {one.column for one in twice.problems} == {"identifier"}


KEYS = st.sampled_from(["s-1", "s-2", "s-3", "s-4"])
CLASSES = st.lists(st.sampled_from(["band-2", "band-5"]), unique=True, min_size=1)


@st.composite
def rosters(draw):
    keys = draw(st.lists(KEYS, unique=True))
    rows = [
        student(key, f"{draw(st.sampled_from(['Ana', 'Ben']))} Rivera", key, draw(st.sampled_from(["", "9", "10"])),
                guardians=draw(st.sampled_from([[], ["g-1"]])), classes=draw(CLASSES))
        for key in keys
    ]  # fmt: skip
    is_bulk = draw(st.booleans())
    others = {} if is_bulk else {
        "gone": draw(st.sets(KEYS)) - set(keys),
        "dropped": {(one, "band-2") for one in draw(st.sets(KEYS)) - set(keys)},
    }  # fmt: skip
    return roster(*rows, is_bulk=is_bulk, guardians=[LUZ], **others)


@st.composite
def crowds(draw):
    keys = draw(st.lists(KEYS, unique=True))
    return [
        person(pk, "Ana Rivera", draw(st.sampled_from(["", key])), "9", draw(st.sampled_from(["", key])),
               is_out=draw(st.booleans()), has_left=draw(st.booleans()), is_off=draw(st.booleans()),
               guardians=draw(st.sampled_from([(), (KEPT_LUZ,)])), classes=frozenset(draw(CLASSES)))
        for pk, key in enumerate(keys, start=1)
    ]  # fmt: skip


def after(people, changes):
    """The people as the services leave them."""
    rows = {one.pk: one for one in people}
    keys = dict(changes.known)
    for pk in changes.newly_flagged:
        rows[pk] = replace(rows[pk], is_off=True)
    for pk in changes.left:
        rows[pk] = replace(rows[pk], is_off=True, has_left=True)
    for one in changes.changed:
        old = rows[one.person.pk]
        back = {"is_off": False, "has_left": False} if one.is_back else {"is_off": old.is_off, "has_left": old.has_left}
        rows[old.pk] = replace(one.person, classes=old.classes, **back)
    for number, one in enumerate(changes.new, start=100):
        rows[number] = replace(one.person, pk=number)
        keys[one.key] = number
    for pk, group in changes.ends:
        rows[pk] = replace(rows[pk], classes=rows[pk].classes - {group})
    for key, group in changes.joins:
        rows[keys[key]] = replace(rows[keys[key]], classes=rows[keys[key]].classes | {group})
    return list(rows.values())


@settings(max_examples=300)
@given(rosters(), crowds())
def test_the_second_time_nothing_changes_and_nobody_with_an_instrument_leaves(told, people):
    answers = {one.key: one.pk for one in changes_of(told, people).twins}
    changes = changes_of(told, people, answers=answers)
    assert not {one.pk for one in people if one.is_out} & set(changes.left)
    assert not set(changes.left) & set(changes.flagged)
    assert len({one.person.pk for one in changes.changed}) == len(changes.changed)
    if not changes.problems:
        again = changes_of(told, after(people, changes), answers=answers)
        assert again.is_nothing, again
