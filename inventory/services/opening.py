"""Opening a new installation in the browser, and the list of what comes first."""

from __future__ import annotations

import re
import secrets
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.events import record_event
from core.models import User
from core.services.accounts import digest_of
from inventory.exceptions import RefusedError
from inventory.models import District, OpeningLink, Role
from inventory.selectors.opening import Standing, has_administrator, standing_of_link
from inventory.services.figures import set_figures
from inventory.services.people import add_person, add_room, add_school, give_role, set_up_district

LASTS = timedelta(hours=24)
TOKEN_BYTES = 16
LEAST_CODE, MOST_CODE = 2, 8


class ClosedLinkError(RefusedError):
    """The link no longer opens anything; the standing says why."""

    def __init__(self, standing: Standing) -> None:
        super().__init__(gettext("This link no longer works. Nothing was saved."))
        self.standing = standing


@dataclass(frozen=True, slots=True)
class Opening:
    """What the first page asks."""

    district: Mapping[str, Any]  # columns of the district
    school: Mapping[str, str]  # name and code
    rooms: Sequence[str]
    person: Mapping[str, Any]  # name, user name, password
    is_director: bool  # of the first school as well
    figures: Mapping[str, str]


@service
def make_opening_link(*, at: datetime, actor: User | None = None) -> str:
    """Return the token of a new link; "" where somebody administers the district already.

    Those made before and not used are void: only what was printed last opens.
    """
    if has_administrator():
        return ""
    OpeningLink.objects.filter(used_at=None).delete()
    token = secrets.token_urlsafe(TOKEN_BYTES)
    OpeningLink.objects.create(token_hash=digest_of(token), made_at=at, expires_at=at + LASTS)
    return token


@service
def open_district(*, token: str, opening: Opening, at: datetime, actor: User | None = None) -> User:
    """Name the district, add school, rooms and administrator, and set the figures: all of it or nothing.

    Of two people with the link open, the first to send wins; the other is told, and writes nothing.
    """
    link = OpeningLink.objects.select_for_update().filter(token_hash=digest_of(token)).first()
    standing = standing_of_link(link, at=at)
    if standing is not Standing.OPEN:
        raise ClosedLinkError(standing)
    district = set_up_district(actor=None, at=at, **opening.district)
    if has_administrator():  # by set_up, while this waited for the district's row
        raise ClosedLinkError(Standing.VOID)
    code = opening.school["code"] or code_for(opening.school["name"])
    school = add_school(name=opening.school["name"], code=code, actor=None, at=at)
    for room in opening.rooms:
        add_room(school=school, name=room, actor=None, at=at)
    person = add_person(actor=None, at=at, **opening.person)
    give_role(user=person, role=Role.ADMINISTRATOR, actor=None, at=at)
    if opening.is_director:
        give_role(user=person, role=Role.DIRECTOR, school=school, actor=None, at=at)
    set_figures(values=opening.figures, effective_on=timezone.localdate(at), actor=None, by=person, at=at)
    OpeningLink.objects.filter(token_hash=digest_of(token)).update(used_at=at)
    record_event(act="opened_by_link", subject=district, after={"user": person.pk})
    return User.objects.get(pk=person.pk)  # as it is now: the roles have ended every session there was


def code_for(name: str) -> str:
    """A code for a school from its name: the first letters of its words, or the first letters of a single word."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().upper()
    words = re.findall(r"[A-Z0-9]+", plain)
    code = "".join(word[0] for word in words)
    if len(code) < LEAST_CODE:
        code = "".join(words)[: LEAST_CODE * 2]
    return code[:MOST_CODE] if len(code) >= LEAST_CODE else "S1"


@service
def put_first_steps_aside(*, is_aside: bool, actor: User | None, at: datetime) -> None:
    """Show the list of first steps on Today no longer, or again."""
    district = District.objects.select_for_update(no_key=True).filter(pk=1).first()
    if district is None or (district.first_steps_aside_at is not None) == is_aside:
        return
    District.objects.filter(pk=1).update(first_steps_aside_at=at if is_aside else None)
    record_event(act="first_steps_aside" if is_aside else "first_steps_shown", subject=district)
