from __future__ import annotations

from email.message import Message

import pytest

from core.responses import file_response, home_url, name_in, page_behind

pytestmark = pytest.mark.pure


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("slip.pdf", "application/pdf"),
        ("list.csv", "text/csv; charset=utf-8"),
        ("paper.jpg", "image/jpeg"),
        ("list.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"),
    ],
)
def test_the_kind_follows_from_the_name_and_is_never_guessed(name, kind):
    answer = file_response(b"content", name=name)
    assert answer.headers["Content-Type"] == kind
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.content == b"content"


def test_a_file_is_shown_or_kept():
    assert file_response(b"", name="a.pdf").headers["Content-Disposition"] == 'inline; filename="a.pdf"'
    kept = file_response(b"", name="a.pdf", is_download=True)
    assert kept.headers["Content-Disposition"] == 'attachment; filename="a.pdf"'


@pytest.mark.parametrize("name", ['sheet-A"; x=".pdf', "sheet-♭.pdf"], ids=["quote", "flat"])
def test_a_number_that_is_no_plain_word_cannot_break_out_of_the_header(name):
    shown = file_response(b"", name=name).headers["Content-Disposition"]
    read = Message()
    read["Content-Disposition"] = shown
    assert shown.isascii()
    assert read.get_filename() == name
    assert name_in(shown) == name
    assert name_in("inline") == ""
    assert read.get_param("x", header="Content-Disposition") is None


def test_other_kinds_of_files_are_not_sent():
    with pytest.raises(KeyError):
        file_response(b"", name="page.js")


@pytest.mark.parametrize(
    ("public", "home"), [("https://horns.elm.example", "https://horns.elm.example"), ("", "http://testserver")]
)
def test_phones_are_sent_to_the_public_address_if_there_is_one(rf, settings, public, home):
    settings.PUBLIC_ADDRESS = public
    assert home_url(rf.get("/bench/")) == home


@pytest.mark.parametrize(
    ("sender", "page"),
    [
        ("http://testserver/lend/TD-0001/?student=7", "/lend/TD-0001/?student=7"),
        ("https://elsewhere.example/lend/", ""),
        ("//elsewhere.example/", ""),
        ("javascript:alert(1)", ""),
        ("", ""),
    ],
)
def test_the_page_behind_a_form_is_one_of_ours(rf, sender, page):
    headers = {"Referer": sender}
    assert page_behind(rf.post("/lend/TD-0001/", headers=headers)) == page
    assert page_behind(rf.get("/lend/TD-0001/", headers=headers)) == ""


def test_a_host_that_is_not_ours_has_no_page_behind(rf):
    assert (
        page_behind(rf.post("/", headers={"Referer": "http://elsewhere.example/", "Host": "elsewhere.example"})) == ""
    )
