"""Pages asked for in Spanish leave no sentence in English."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from django.urls import reverse

from inventory.models import Role
from tests.factories import make_user
from tests.permission_matrix import all_rows

PAGES = {name: row for name, row in all_rows().items() if row.method == "get" and not name.startswith("api:")}
# Words that an English sentence can hardly do without, and a Spanish one never has.
ENGLISH = re.compile(
    r"\b(the|of|and|is|are|to|by|with|from|for|not|this|it|or|its|was|has|at|your|which|when|days?)\b", re.IGNORECASE
)
# Somebody's own words stand on these: terms, what was done, why; places of the world; what a family reads in its language.
TYPED = {
    "desk:begin",
    "desk:disposal",
    "desk:lend-this",
    "desk:sign",
    "desk:sign-by-link",
    "desk:tag",
    "loans:terms",
    "repairs:order",
}
EVERY_DAY = 6  # one page of so many; all in the drill
SPOKEN = ("aria-label", "placeholder", "title", "alt", "value")


class Texts(HTMLParser):
    """The texts of a page that somebody reads or hears."""

    def __init__(self) -> None:
        super().__init__()
        self.inside: list[str] = []
        self.found: set[str] = set()

    def handle_starttag(self, tag, attrs):
        if tag in {"script", "style", "code", "textarea"}:
            self.inside.append(tag)
        given = dict(attrs)
        self.found |= {given[name] for name in SPOKEN if given.get(name) and not (name == "value" and tag != "button")}

    def handle_endtag(self, tag):
        if self.inside and self.inside[-1] == tag:
            self.inside.pop()

    def handle_data(self, data):
        if not self.inside and data.strip():
            self.found.add(" ".join(re.sub(r"\{\w+\}|“[^”]*”", "", data).split()))


def texts_of(page: str) -> set[str]:
    parser = Texts()
    parser.feed(page)
    return parser.found


ASKED = [
    pytest.param(name, marks=() if number % EVERY_DAY == 0 else pytest.mark.drill)
    for number, name in enumerate(sorted(PAGES.keys() - TYPED))
]


@pytest.mark.page
@pytest.mark.parametrize("name", ASKED)
def test_a_page_in_spanish_leaves_no_sentence_in_english(name, client, school):
    row = PAGES[name]
    address = reverse(name, args=row.make(school))
    if row.permission:
        user = make_user(Role.DIRECTOR, school=school, username="everybody", name="Every Body")
        for role in (Role.TECH, Role.AUDITOR, Role.ADMINISTRATOR):
            user.staff_roles.create(role=role)
        client.force_login(user)
    answer = client.get(address, headers={"accept-language": "es"})
    if answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/html"):
        assert sorted(text for text in texts_of(answer.text) if ENGLISH.search(text)) == []
