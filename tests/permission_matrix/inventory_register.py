"""Rows of the register and set-up pages."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.utils import timezone

from inventory.models import School, Tag
from inventory.services.figures import set_figures
from tests.factories import make_instrument, make_user
from tests.inventory.makers import make_integration_row
from tests.permission_matrix import Row


def number(school: School) -> tuple[Any, ...]:
    return (make_instrument(school=school).asset_number,)


def number_and_tag(school: School) -> tuple[Any, ...]:
    tag = Tag.objects.live().get(instrument=make_instrument(school=school))
    return tag.instrument.asset_number, tag.pk


def code(school: School) -> tuple[Any, ...]:
    return (school.code,)


def person(school: School) -> tuple[Any, ...]:
    return (make_user(school=school).pk,)


def csv(school: School) -> tuple[Any, ...]:
    return ("csv",)


def figure_key(school: School) -> tuple[Any, ...]:
    return ("bench_rate_amount",)


def figure_to_come(school: School) -> tuple[Any, ...]:
    at = timezone.now()
    rows = set_figures(
        values={"bench_rate_amount": "41"}, effective_on=timezone.localdate(at) + timedelta(days=9), actor=None, at=at
    )
    return (rows[0].pk,)


def integration_pk(school: School) -> tuple[Any, ...]:
    return (make_integration_row().pk,)


# People belong to the district, not to one school: own=False.
ROWS = {
    "inventory:list": Row("inventory.view_instrument", own=False),
    "inventory:export": Row("inventory.view_instrument", make=csv, own=False),
    "inventory:add": Row("inventory.add_instrument", own=False),
    "inventory:kind": Row("inventory.add_instrument", own=False),
    "inventory:labels": Row("inventory.print_labels", own=False),
    "inventory:settings": Row("inventory.manage_settings", own=False),
    "inventory:figures": Row("inventory.manage_settings", own=False),
    "inventory:figure": Row("inventory.manage_settings", make=figure_key, own=False),
    "inventory:call-off-figure": Row("inventory.manage_settings", make=figure_to_come, method="post", own=False),
    "inventory:integrations": Row("inventory.manage_integrations", own=False),
    "inventory:revoke-integration": Row("inventory.manage_integrations", make=integration_pk, method="post", own=False),
    "inventory:schools": Row("inventory.manage_settings", own=False),
    "inventory:school": Row("inventory.manage_settings", make=code),
    "inventory:people": Row("inventory.manage_people", own=False),
    "inventory:person": Row("inventory.manage_people", make=person, own=False),
    "inventory:give-role": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:take-role": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:password": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:make-link": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:unlink-sign-on": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:reset-step": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:active": Row("inventory.manage_people", make=person, method="post", own=False),
    "inventory:edit": Row("inventory.change_instrument", make=number),
    "inventory:lock": Row("inventory.view_lock", make=number),
    "inventory:donation": Row("inventory.open_gift_record", make=number),
    "inventory:tags": Row("inventory.manage_tags", make=number),
    "inventory:issue-tag": Row("inventory.manage_tags", make=number, method="post"),
    "inventory:revoke-tag": Row("inventory.manage_tags", make=number_and_tag),
}
