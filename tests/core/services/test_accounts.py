from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event, OneTimeLink, User
from core.services.accounts import (
    LINK_GOOD_FOR,
    MAIL_GOOD_FOR,
    MAIL_PAUSE,
    LinkGoneError,
    WrongPasswordError,
    choose_password,
    digest_of,
    end_sessions,
    keep_mailed_link,
    live_link,
    make_link,
    new_token,
    recover_password,
    set_first_password,
    use_link,
    was_just_mailed,
)
from tests.factories import NOW, PASSWORD, make_user

pytestmark = pytest.mark.django_db
GOOD, OTHER = "seven-quiet-mutes", "eight-loud-cymbals"


def acts() -> list[str]:
    return list(Event.objects.order_by("number").values_list("act", flat=True))


def test_ones_own_password_is_changed_by_who_knows_the_old_one():
    person = make_user()
    with pytest.raises(WrongPasswordError):
        choose_password(user=person, password=GOOD, old="guessed-wrong-here", actor=person, at=NOW)
    assert acts() == []
    choose_password(user=person, password=GOOD, old=PASSWORD, actor=person, at=NOW)
    assert User.objects.get(pk=person.pk).check_password(GOOD)
    event = Event.objects.get()
    assert (event.act, event.actor, event.after) == ("password_changed", person, {"by": "self"})


def test_without_the_old_password_nothing_but_the_first_is_changed():
    person = make_user()
    with pytest.raises(RefusedError, match="Enter your current password"):
        choose_password(user=person, password=GOOD, old=None, actor=person, at=NOW)


def test_the_first_password_is_for_one_log_in(administrator):
    person = make_user()
    set_first_password(user=person, password=GOOD, actor=administrator, at=NOW)
    person.refresh_from_db()
    assert person.password_is_first
    with pytest.raises(RefusedError, match="Choose another"):
        choose_password(user=person, password=GOOD, old=None, actor=person, at=NOW)
    choose_password(user=person, password=OTHER, old=None, actor=person, at=NOW)
    person.refresh_from_db()
    assert not person.password_is_first
    assert acts() == ["password_set", "password_changed"]


def test_a_weak_password_is_refused_by_every_way(administrator):
    person = make_user()
    token = make_link(user=person, actor=administrator, at=NOW)
    weak = {"password": "aaaaaaaaaaaa", "at": NOW}
    for way in (
        lambda: choose_password(user=person, old=PASSWORD, actor=person, **weak),
        lambda: set_first_password(user=person, actor=administrator, **weak),
        lambda: recover_password(user=person, actor=person, **weak),
        lambda: use_link(token=token, actor=None, **weak),
    ):
        with pytest.raises(RefusedError, match="same few characters"):
            way()
    assert live_link(token, at=NOW), "a refused password does not use the link up"


def test_a_link_works_once(administrator):
    person = make_user()
    token = make_link(user=person, actor=administrator, at=NOW)
    assert OneTimeLink.objects.get().token_hash == digest_of(token) != token
    use_link(token=token, password=GOOD, actor=None, at=NOW)
    person.refresh_from_db()
    assert person.check_password(GOOD)
    assert not person.password_is_first
    with pytest.raises(LinkGoneError):
        use_link(token=token, password=OTHER, actor=None, at=NOW)
    assert acts() == ["reset_link_made", "password_changed"]
    assert Event.objects.last().after == {"by": "link"}


def test_a_link_expires(administrator):
    token = make_link(user=make_user(), actor=administrator, at=NOW)
    assert live_link(token, at=NOW + LINK_GOOD_FOR - timedelta(seconds=1))
    assert live_link(token, at=NOW + LINK_GOOD_FOR) is None
    with pytest.raises(LinkGoneError):
        use_link(token=token, password=GOOD, actor=None, at=NOW + LINK_GOOD_FOR)


def test_a_newer_link_and_a_new_password_withdraw_it(administrator):
    person = make_user()
    first = make_link(user=person, actor=administrator, at=NOW)
    second = make_link(user=person, actor=administrator, at=NOW)
    assert live_link(first, at=NOW) is None
    choose_password(user=person, password=GOOD, old=PASSWORD, actor=person, at=NOW)
    assert live_link(second, at=NOW) is None


def test_a_link_does_not_let_in_whoever_is_kept_out(administrator):
    person = make_user()
    token = make_link(user=person, actor=administrator, at=NOW)
    User.objects.filter(pk=person.pk).update(is_active=False)
    assert live_link(token, at=NOW) is None
    with pytest.raises(LinkGoneError):
        use_link(token=token, password=GOOD, actor=None, at=NOW)
    with pytest.raises(RefusedError, match="Reactivate"):
        make_link(user=person, actor=administrator, at=NOW)


def test_asking_for_mail_again_and_again_sends_one_and_spares_a_link_handed_over(administrator):
    person = make_user()
    handed = make_link(user=person, actor=administrator, at=NOW)
    mailed, later = new_token(), new_token()
    assert not was_just_mailed(person, at=NOW)
    keep_mailed_link(user=person, token=mailed, actor=None, at=NOW)
    assert was_just_mailed(person, at=NOW + MAIL_PAUSE / 2)
    assert live_link(handed, at=NOW)
    assert not was_just_mailed(person, at=NOW + MAIL_PAUSE)
    keep_mailed_link(user=person, token=later, actor=None, at=NOW + MAIL_PAUSE)
    assert live_link(mailed, at=NOW) is None
    assert live_link(later, at=NOW + MAIL_GOOD_FOR)
    assert live_link(later, at=NOW + MAIL_PAUSE + MAIL_GOOD_FOR) is None


def test_sessions_are_tied_to_password_and_round():
    person = make_user()
    hashes = {person.get_session_auth_hash()}
    for _ in range(2):
        hashes.add(end_sessions(user=person, actor=person, at=NOW).get_session_auth_hash())
    fresh = choose_password(user=person, password=GOOD, old=PASSWORD, actor=person, at=NOW)
    assert len(hashes | {fresh.get_session_auth_hash()}) == 4


def test_no_event_of_a_password_holds_it_or_the_link(administrator):
    person = make_user()
    token = make_link(user=person, actor=administrator, at=NOW)
    use_link(token=token, password=GOOD, actor=None, at=NOW)
    told = str(list(Event.objects.values_list("before", "after")))
    assert token not in told
    assert digest_of(token) not in told
    assert GOOD not in told
