from __future__ import annotations

import pytest
from allauth.mfa.totp.internal.auth import hotp_value, yield_hotp_counters_from_time

from core import second_steps as steps
from core.exceptions import RefusedError
from core.models import Event, User
from core.services.second_steps import (
    add_code_app,
    add_passkey,
    note_due,
    remove_step,
    renew_recovery_codes,
    reset_second_step,
    use_code,
)
from inventory.models import District, Role
from inventory.services.people import give_role, remove_role, set_up_district
from tests.factories import NOW, make_district, make_user

pytestmark = pytest.mark.django_db


def code_now(secret: str, away: int = 0) -> str:
    return f"{hotp_value(secret, list(yield_hotp_counters_from_time())[1] + away):06}"


def with_app(person: User) -> tuple[str, list[str]]:
    secret = steps.new_secret()
    codes = add_code_app(user=person, secret=secret, code=code_now(secret), actor=person, at=NOW)
    return secret, codes


def acts() -> list[str]:
    return list(Event.objects.order_by("number").values_list("act", flat=True))


def is_due(person: User) -> bool:
    return User.objects.get(pk=person.pk).second_step_due


def test_an_app_is_proved_by_a_code_before_it_counts():
    person, secret = make_user(), steps.new_secret()
    with pytest.raises(RefusedError, match="not the code"):
        add_code_app(user=person, secret=secret, code="000000", actor=person, at=NOW)
    assert not steps.has_second_step(person)
    _, codes = with_app(person)
    assert len(codes) == 10
    assert acts() == ["second_step_added"]
    assert Event.objects.get().after == {"kind": "totp"}
    with pytest.raises(RefusedError, match="already have an app"):
        with_app(person)


def test_the_code_that_set_up_the_app_does_not_open_the_log_in_too():
    person = make_user()
    secret, _ = with_app(person)
    assert use_code(user=person, code=code_now(secret), actor=None, at=NOW) == ""
    assert use_code(user=person, code=code_now(secret, away=1), actor=None, at=NOW) == steps.CODES


def test_a_recovery_code_in_place_of_the_app_is_logged():
    person = make_user()
    _, codes = with_app(person)
    assert use_code(user=person, code=codes[0], actor=None, at=NOW) == steps.RECOVERY
    assert use_code(user=person, code=codes[0], actor=None, at=NOW) == ""
    event = Event.objects.last()
    assert (event.act, event.after, event.actor) == ("recovery_code_used", {"left": 9}, person)


def test_somebody_elses_step_is_not_removed():
    person, other = make_user(), make_user()
    with_app(person)
    remove_step(user=other, pk=steps.steps_of(person).get().pk, actor=other, at=NOW)
    assert steps.has_second_step(person)


def test_with_the_last_step_the_recovery_codes_go_too():
    person = make_user()
    _, codes = with_app(person)
    remove_step(user=person, pk=steps.steps_of(person).get().pk, actor=person, at=NOW)
    assert use_code(user=person, code=codes[0], actor=None, at=NOW) == ""
    assert acts() == ["second_step_added", "second_step_removed"]
    with pytest.raises(RefusedError, match="Add one first"):
        renew_recovery_codes(user=person, actor=person, at=NOW)


def test_a_lost_phone_is_reset_by_an_administrator_with_an_event(administrator):
    person = make_user()
    _, codes = with_app(person)
    before = User.objects.get(pk=person.pk).get_session_auth_hash()
    assert reset_second_step(user=person, actor=administrator, at=NOW)
    assert not steps.has_second_step(person)
    assert use_code(user=person, code=codes[0], actor=None, at=NOW) == ""
    event = Event.objects.last()
    assert (event.act, event.actor, event.subject_id) == ("second_step_reset", administrator, str(person.pk))
    assert User.objects.get(pk=person.pk).get_session_auth_hash() != before
    assert not reset_second_step(user=person, actor=administrator, at=NOW)
    assert acts().count("second_step_reset") == 1


def test_a_passkey_that_answers_nothing_is_refused():
    person = make_user()
    with pytest.raises(RefusedError, match="not accepted"):
        add_passkey(user=person, name="Phone", credential={"id": "x"}, actor=person, at=NOW)
    assert acts() == []


def test_whom_the_district_asks_owes_a_step_until_there_is_one(administrator, director, tech):
    make_district()
    with_app(tech)
    roles = [Role.DIRECTOR, Role.TECH]
    set_up_district(actor=administrator, at=NOW, second_step_roles=roles)
    assert [is_due(one) for one in (administrator, director, tech)] == [False, True, False]
    assert Event.objects.filter(act="district_changed").get().after == {"second_step_roles": roles}
    with_app(director)
    assert not is_due(director)
    with pytest.raises(RefusedError, match="Add another one first"):
        remove_step(user=director, pk=steps.steps_of(director).get().pk, actor=director, at=NOW)
    reset_second_step(user=tech, actor=administrator, at=NOW)
    assert is_due(tech)
    set_up_district(actor=administrator, at=NOW, second_step_roles=[])
    assert not is_due(tech)


def test_a_role_brings_the_duty_and_takes_it_along(administrator):
    make_district()
    District.objects.update(second_step_roles=[Role.AUDITOR])
    person = make_user()
    held = give_role(user=person, role=Role.AUDITOR, actor=administrator, at=NOW)
    assert is_due(person)
    remove_role(held=held, actor=administrator, at=NOW)
    assert not is_due(person)


def test_saving_other_settings_asks_nobody_anew(administrator, director):
    make_district()
    User.objects.filter(pk=director.pk).update(second_step_due=True)
    set_up_district(actor=administrator, at=NOW, name="Another name")
    assert is_due(director)
    note_due(director)
    assert not is_due(director)
