"""One act is one transaction, done again where another was in the way, and its form counts once."""

from __future__ import annotations

import contextlib
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.db import IntegrityError, OperationalError, connection, transaction
from django.test.utils import CaptureQueriesContext

from core import acts
from core.acts import current_act, forget_old_forms, lock_row, service
from core.events import record_event
from core.exceptions import BusyError, OvertakenError, RefusedError, UsedFormError
from core.models import Event, PostedForm, User
from tests.factories import NOW, make_school, make_user

pytestmark = pytest.mark.django_db


@service
def add(*, username: str, at: Any, actor: User | None = None) -> User:
    user = User.objects.create(username=username)
    record_event(act="added", subject=user, at=at)
    return user


@service(once="nonce")
def add_once(*, username: str, nonce: UUID | None, at: Any, actor: User | None = None) -> User:
    return add(username=username, actor=actor, at=at)


@service
def refuse_after(*, username: str) -> None:
    add(username=username, at=NOW)
    raise RefusedError("No.")


@pytest.fixture
def no_pauses(monkeypatch):
    monkeypatch.setattr(acts, "FIRST_PAUSE_S", 0)


def test_a_service_inside_another_joins_its_transaction_and_the_log_is_written_once():
    @service
    def add_three(*, actor: User, at: Any) -> None:
        for name in "abc":
            add(username=name, actor=actor, at=at)

    actor = make_user()
    record_event(act="first", subject=actor, at=NOW)
    with CaptureQueriesContext(connection) as seen:
        add_three(actor=actor, at=NOW)
    statements = [one["sql"].split()[0:3] for one in seen.captured_queries]
    assert [words for words in statements if words[0] in {"SAVEPOINT", "RELEASE"}] == [
        words for words in statements if words[0] in {"SAVEPOINT", "RELEASE"}
    ][:2]
    assert len(statements) == 8  # begin, three rows, the log's head, events and head, end
    assert list(Event.objects.order_by("number").values_list("act", "actor"))[1:] == [("added", actor.pk)] * 3


def test_a_refusal_takes_everything_back_even_when_it_is_swallowed():
    @service
    def swallow() -> None:
        with contextlib.suppress(RefusedError):
            refuse_after(username="half")

    with pytest.raises(RefusedError):
        refuse_after(username="alone")
    with pytest.raises(Exception, match="transaction"):
        swallow()
    assert not User.objects.exists()
    assert not Event.objects.exists()


def test_nothing_outside_a_service_has_an_act():
    with pytest.raises(RuntimeError, match="service"):
        current_act()


def test_steps_at_the_end_are_done_once_and_the_last_ones_last():
    done = []

    @service
    def work() -> None:
        act = current_act()
        act.at_end("log", lambda: done.append("log"), last=True)
        for _ in range(2):
            act.at_end("state", lambda: (done.append("state"), act.at_end("more", lambda: done.append("more"))))
        done.append("work")

    work()
    assert done == ["work", "state", "more", "log"]


def test_what_a_last_step_asks_for_is_done_and_logged_too():
    done = []

    @service
    def work() -> None:
        act = current_act()

        def follow_up() -> None:
            done.append("follow-up")
            act.at_end("log", lambda: done.append("log again"), last=True)

        act.at_end("log", lambda: (done.append("log"), act.at_end("state", follow_up)), last=True)

    work()
    assert done == ["log", "follow-up", "log again"]


class Twice:
    """Fails so many times, then goes well."""

    def __init__(self, *errors: Exception) -> None:
        self.errors = list(errors)

    def __call__(self) -> str:
        if self.errors:
            raise self.errors.pop()
        return "done"


def taken() -> Exception:
    make_user(username="one")
    try:
        with acts.transaction.atomic():
            User.objects.create(username="one")
    except IntegrityError as error:
        return error
    raise AssertionError


def test_a_key_that_somebody_took_first_is_met_by_a_second_try(no_pauses):
    work = service(Twice(taken()).__call__)
    assert work() == "done"


def test_a_key_that_stays_taken_is_refused_in_words(no_pauses, caplog):
    error = taken()
    with pytest.raises(OvertakenError):
        service(Twice(*[error] * 20).__call__)()
    assert "failed" in caplog.text


def test_another_fault_of_the_database_is_not_tried_again(no_pauses):
    work = Twice(IntegrityError("NOT NULL constraint failed"), IntegrityError("CHECK constraint failed"))
    with pytest.raises(IntegrityError, match="CHECK"):
        service(work.__call__)()
    assert len(work.errors) == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("code", ["40001", "40P01", "database is locked"])
def test_a_deadlock_is_tried_again_and_never_shown(no_pauses, caplog, code):
    error = OperationalError(code)
    error.__cause__ = type("FromTheDriver", (Exception,), {"sqlstate": code})()
    assert service(Twice(error, error).__call__)() == "done"
    with pytest.raises(BusyError):
        service(Twice(*[error] * 20).__call__)()


@pytest.mark.django_db(transaction=True)
def test_hooks_after_the_commit_belong_to_the_try_that_went_well(no_pauses):
    told = []

    @service
    def work() -> None:
        acts.transaction.on_commit(lambda: told.append(add(username="afterwards", at=NOW)))
        twice()

    twice = Twice(OperationalError("database is locked"))
    work()
    assert [user.username for user in told] == ["afterwards"]
    assert Event.objects.get().act == "added"  # an act of its own, with its own end


def test_the_same_form_leads_to_the_same_row(no_pauses):
    nonce, actor = uuid4(), make_user()
    first = add_once(username="ada", nonce=nonce, actor=actor, at=NOW)
    assert [add_once(username="ada", nonce=nonce, actor=actor, at=NOW) for _ in range(3)] == [first] * 3
    assert PostedForm.objects.get().result() == first
    assert Event.objects.filter(act="added").count() == 1
    assert add_once(username="bo", nonce=None, at=NOW) != first


@pytest.mark.django_db(transaction=True)
def test_in_a_callers_transaction_too_the_same_form_leads_to_the_same_row_and_nobody_pauses(monkeypatch):
    monkeypatch.setattr(acts.time, "sleep", None)  # called, it would fail
    nonce = uuid4()
    with transaction.atomic():
        first, second = (add_once(username="ada", nonce=nonce, at=NOW) for _ in range(2))
    assert first == second == User.objects.get()


@pytest.mark.django_db(transaction=True)
def test_in_a_callers_transaction_a_deadlock_is_left_to_the_caller():
    error = OperationalError("database is locked")
    with pytest.raises(OperationalError), transaction.atomic():
        service(Twice(error).__call__)()


def test_keys_of_forms_are_kept_for_thirty_days():
    for days in (29, 31):
        PostedForm.objects.create(key=f"{days}", service="add", posted_at=NOW - timedelta(days=days))
    assert forget_old_forms(at=NOW) == 1
    assert PostedForm.objects.get().key == "29"


def test_a_refused_form_may_be_posted_again(no_pauses):
    @service(once="nonce")
    def try_twice(*, nonce: UUID, at: Any) -> str:
        return twice()

    twice, nonce = Twice(RefusedError("Not yet.")), uuid4()
    with pytest.raises(RefusedError):
        try_twice(nonce=nonce, at=NOW)
    assert try_twice(nonce=nonce, at=NOW) == "done"
    assert PostedForm.objects.get().result() is None


def test_a_form_of_one_row_is_no_form_of_another(no_pauses):
    @service(once="nonce", again=lambda *_row, **_posted: "again")
    def about(*, school: Any, nonce: UUID, at: Any) -> str:
        return "new"

    here, nonce = make_school(), uuid4()
    assert [about(school=here, nonce=nonce, at=NOW) for _ in range(2)] == ["new", "again"]
    with pytest.raises(UsedFormError):
        about(school=make_school(), nonce=nonce, at=NOW)
    with pytest.raises(UsedFormError):
        add_once(username="ada", nonce=nonce, at=NOW)


def test_a_locked_row_is_the_row_as_it_is_now():
    user = make_user(name="Before")
    User.objects.filter(pk=user.pk).update(name="After")

    @service
    def read() -> str:
        return lock_row(user).name

    assert read() == "After"
