"""Forms offer what they are told, and only where there is something to choose."""

from __future__ import annotations

import pytest
from django import forms

from core.forms import (
    GONE_SINCE,
    REFUSED,
    FirstPasswordForm,
    LogInForm,
    OwnPasswordForm,
    RowsField,
    set_choices,
    set_queryset,
)
from core.models import User
from tests.factories import NOW, PASSWORD, make_user


class Order(forms.Form):
    size = forms.ChoiceField()
    extras = forms.MultipleChoiceField(required=False)
    person = forms.ModelChoiceField(queryset=User.objects.none())
    words = forms.CharField(required=False)


@pytest.mark.django_db
def test_what_is_offered_may_be_chosen_and_nothing_else():
    pat, other = make_user(), make_user()
    form = Order({"size": "large", "extras": ["strap"], "person": pat.pk})
    set_choices(form, "size", [("large", "Large")])
    set_choices(form, "extras", iter([("strap", "Strap"), ("reed", "Reed")]))
    set_queryset(form, "person", User.objects.filter(pk=pat.pk))
    assert form.is_valid()
    wrong = Order({"size": "small", "person": other.pk})
    set_choices(wrong, "size", [("large", "Large")])
    set_queryset(wrong, "person", User.objects.filter(pk=pat.pk))
    assert set(wrong.errors) == {"size", "person"}


@pytest.mark.django_db
def test_a_choice_that_is_there_no_more_says_so():
    wrong = Order({"size": "small", "extras": ["strap"], "person": make_user().pk})
    set_choices(wrong, "size", [("large", "Large")])
    set_choices(wrong, "extras", [("reed", "Reed")])
    set_queryset(wrong, "person", User.objects.none())
    assert [wrong.errors[name] for name in ("size", "extras", "person")] == [[str(GONE_SINCE)]] * 3


def test_a_field_with_words_of_its_own_keeps_them():
    form = Order({"size": "small"})
    form.fields["size"].error_messages["invalid_choice"] = "Sold."
    set_choices(form, "size", [("large", "Large")])
    assert form.errors["size"] == ["Sold."]


@pytest.mark.django_db
@pytest.mark.parametrize("key", ["9" * 30, "9" * 5_000, "x", "-1", ""])
def test_rows_are_chosen_by_keys_that_a_column_holds_alone(key):
    class People(forms.Form):
        people = RowsField(queryset=User.objects.none())

    pat = make_user()
    form, wrong = People({"people": [str(pat.pk)]}), People({"people": [str(pat.pk), key]})
    for one in (form, wrong):
        set_queryset(one, "people", User.objects.all())
    assert list(form.cleaned_data["people"] if form.is_valid() else ()) == [pat]
    assert wrong.errors["people"] == [str(GONE_SINCE)]


def test_a_form_keeps_its_offer_to_itself():
    set_choices(Order(), "size", [("large", "Large")])
    assert list(Order().fields["size"].choices) == []


def test_a_field_that_has_nothing_to_choose_is_an_error():
    with pytest.raises(TypeError, match="words of Order"):
        set_choices(Order(), "words", [])
    with pytest.raises(TypeError, match="size of Order"):
        set_queryset(Order(), "size", User.objects.none())


@pytest.fixture
def log_in(rf, db):
    make_user(username="Pat")
    make_user(username="gone", is_active=False)

    def send(name: str, password: str) -> LogInForm:
        return LogInForm(rf.post("/log-in/"), {"username": name, "password": password}, at=NOW)

    return send


@pytest.mark.parametrize("name", ["Pat", "pat", "PAT"])
def test_a_log_in_name_opens_in_any_case(log_in, name):
    assert log_in(name, PASSWORD).is_valid()


def test_every_refusal_of_a_log_in_reads_the_same(log_in):
    refused = [log_in("Pat", PASSWORD.upper()), log_in("nobody", PASSWORD), log_in("gone", PASSWORD)]
    assert {form.errors["__all__"][0] for form in refused} == {REFUSED}


def test_a_new_password_keeps_its_spaces_and_is_typed_twice():
    form = FirstPasswordForm({"password": " seven quiet mutes ", "again": " seven quiet mutes "})
    assert form.is_valid()
    assert form.cleaned_data["password"] == " seven quiet mutes "
    assert "again" in FirstPasswordForm({"password": "seven quiet mutes", "again": "seven quiet mute"}).errors


def test_the_old_password_is_asked_for_first():
    assert list(OwnPasswordForm().fields) == ["old", "password", "again"]
