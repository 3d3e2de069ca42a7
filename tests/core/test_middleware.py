import gzip
import json
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.contrib import messages
from django.contrib.messages.storage.session import SessionStorage
from django.http import HttpResponse, HttpResponseRedirect
from django.urls import reverse

from core.exceptions import BusyError
from core.middleware import HEALTH, ClientAddressMiddleware, CompressionMiddleware, SavedFormMiddleware, body_length
from core.models import Event, User
from inventory.services.care import report_problem
from tests.factories import NOW, make_ready_instrument

pytestmark = pytest.mark.page


@pytest.mark.django_db
def test_every_answer_names_its_request(client):
    first, second = (client.get(reverse("core:health")).headers["X-Request-Id"] for _ in range(2))
    assert first != second


@pytest.mark.django_db
def test_all_events_of_one_request_carry_its_id(client, director):
    client.force_login(director)
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    token = instrument.tags.get().token
    answer = client.post(reverse("desk:report", args=[token]), {"text": "The second valve sticks."})
    events = Event.objects.filter(request_id=answer.headers["X-Request-Id"])
    assert {event.act for event in events} == {"problem_reported", "judged"}


@pytest.mark.django_db
def test_a_database_that_stays_busy_is_said_in_words_and_is_no_fault(client, director, monkeypatch):
    def busy(**_asked):
        raise BusyError

    monkeypatch.setattr("inventory.views.inspecting.start_inspection", busy)
    client.force_login(director)
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    answer = client.post(
        reverse("inventory:inspect", args=[instrument.asset_number]), {"purpose": "spot", "is_safe": "1"}
    )
    assert answer.status_code == 409
    assert "Nothing was changed; please try again." in answer.text


KEY = "11111111-2222-4333-8444-555555555555"


@pytest.mark.django_db
def test_a_saved_form_is_named_to_the_device_that_keeps_it(client, director):
    client.force_login(director)
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    page = reverse("inventory:inspect", args=[instrument.asset_number])
    answer = client.post(page, {"purpose": "spot", "is_safe": "1", "kept": KEY})
    assert answer.status_code == 302
    assert answer.cookies[f"saved-{KEY}"]["max-age"] == 72 * 3600
    assert not answer.cookies[f"saved-{KEY}"]["httponly"], "its script reads it"


@pytest.mark.django_db
@pytest.mark.parametrize("kept", ["", "x" * 36, f"{KEY}; domain=elsewhere.example", f"{KEY}\r\nSet-Cookie: a=b"])
def test_a_key_that_is_none_is_named_to_nobody(client, director, kept):
    client.force_login(director)
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    page = reverse("inventory:inspect", args=[instrument.asset_number])
    answer = client.post(page, {"purpose": "spot", "is_safe": "1", "kept": kept})
    assert answer.status_code == 302
    assert not [name for name in answer.cookies if name.startswith("saved-")]


@pytest.mark.django_db
def test_a_form_is_not_called_saved_without_a_session_when_refused_or_with_an_error(client, director, rf):
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    page = reverse("inventory:accessories", args=[instrument.asset_number])
    assert client.post(page, {"kept": KEY}).url.startswith(reverse("core:log-in"))
    assert f"saved-{KEY}" not in client.cookies
    client.force_login(director)
    assert client.post(reverse("loans:add-student"), {"kept": KEY}).status_code == 422
    assert f"saved-{KEY}" not in client.cookies

    def led_back(request):
        messages.error(request, "Nothing was changed.")
        return HttpResponseRedirect("/")

    request = rf.post("/", {"kept": KEY})
    request.user, request.session = director, {}
    request._messages = SessionStorage(request)
    saved_form = SavedFormMiddleware(led_back)
    saved_form.process_view(request, led_back, (), {})
    assert not saved_form(request).cookies
    request = rf.post("/", {"kept": KEY}, headers={"X-Queued": "1"})
    request.user, request.session = director, {}
    request._messages = SessionStorage(request)
    saved_form.process_view(request, led_back, (), {})
    answer = saved_form(request)
    assert answer.status_code == 409
    assert json.loads(answer.content) == {"ok": False, "refused": "Nothing was changed."}


@pytest.mark.django_db
def test_what_was_sent_from_a_queue_is_told_where_it_leads_and_what_it_says(client, tech):
    client.force_login(tech)
    page = reverse(
        "inventory:play-test", args=[make_ready_instrument(school=tech.staff_roles.get().school).asset_number]
    )
    sent = {"result": "pass", "nonce": str(uuid4()), "key": KEY}
    first, again = (client.post(page, sent, headers={"X-Queued": "1"}).json() for _ in range(2))
    assert first["ok"]
    assert first["says"].startswith("Play test saved")
    assert again["url"] == first["url"], "sent twice, made once"
    assert "Play test saved" not in client.get(reverse("desk:today")).text, "it was said already"


@pytest.mark.django_db
def test_acts_outside_a_request_carry_none():
    report_problem(instrument=make_ready_instrument(), text="It rattles.", at=NOW)
    assert Event.objects.get(act="problem_reported").request_id == ""


@pytest.mark.django_db
def test_a_staff_page_is_never_kept_by_the_browser(client, director):
    client.force_login(director)
    assert "no-store" in client.get(reverse("desk:scan")).headers["Cache-Control"]


@pytest.mark.parametrize(
    ("proxies", "forwarded", "seen"),
    [
        (1, "198.51.100.7", "198.51.100.7"),
        (1, "203.0.113.1, 198.51.100.7", "198.51.100.7"),
        (2, "203.0.113.1, 198.51.100.7, 192.0.2.4", "198.51.100.7"),
        (1, "2001:db8::7", "2001:db8::7"),
        (1, "somebody", "127.0.0.1"),
        (2, "198.51.100.7", "127.0.0.1"),
        (1, "", "127.0.0.1"),
        (0, "198.51.100.7", "127.0.0.1"),
    ],
    ids=["one", "a-forged-entry", "two", "version-6", "no-address", "too-few", "no-header", "nobody-in-front"],
)
def test_the_sender_is_who_the_outermost_server_of_ours_was_asked_by(rf, settings, proxies, forwarded, seen):
    settings.PROXIES = proxies
    found = []
    request = rf.get("/", headers={"X-Forwarded-For": forwarded}, REMOTE_ADDR="127.0.0.1")
    ClientAddressMiddleware(lambda one: found.append(one.META["REMOTE_ADDR"]) or HttpResponse())(request)
    assert found == [seen]


@pytest.mark.django_db
def test_wrong_passwords_from_one_address_do_not_lock_another_out(client, director, settings):
    settings.PROXIES = 1
    director.set_password("a long enough password")
    director.save()

    def log_in(password, address):
        form = {"username": "director", "password": password}
        return client.post(reverse("core:log-in"), form, headers={"X-Forwarded-For": address})

    for _ in range(settings.LOG_IN_TRIES + 1):
        refused = log_in("wrong", "203.0.113.1")
    assert refused.status_code == 429
    assert log_in("a long enough password", "198.51.100.7").status_code == 302


ZIPPED = {"accept-encoding": "gzip"}


@pytest.mark.django_db
def test_a_page_goes_out_compressed_and_never_twice_at_the_same_length(client):
    answers = [client.get(reverse("core:log-in"), headers=ZIPPED) for _ in range(30)]
    assert {answer.headers["Content-Encoding"] for answer in answers} == {"gzip"}
    assert all("</html>" in gzip.decompress(answer.content).decode() for answer in answers)
    assert len({len(answer.content) for answer in answers}) > 5, "its length must not say what is in it"
    assert "Content-Encoding" not in client.get(reverse("core:log-in")).headers


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("site", "is_zipped"), [("same-origin", True), ("none", True), ("cross-site", False), ("same-site", False)]
)
def test_what_another_site_asks_for_is_not_compressed(client, site, is_zipped):
    answer = client.get(reverse("core:log-in"), headers=ZIPPED | {"sec-fetch-site": site})
    assert ("Content-Encoding" in answer.headers) is is_zipped


@pytest.mark.parametrize(
    ("kind", "is_zipped"),
    [("text/html; charset=utf-8", True), ("text/csv", True), ("image/jpeg", False), ("application/pdf", False)],
)
def test_what_is_compressed_already_is_left_alone(rf, kind, is_zipped):
    middleware = CompressionMiddleware(lambda _request: HttpResponse(b"word " * 500, content_type=kind))
    assert ("Content-Encoding" in middleware(rf.get("/", headers=ZIPPED)).headers) is is_zipped


@pytest.mark.django_db
@pytest.mark.parametrize("host", ["127.0.0.1", "10.0.0.5", "no_name", "horns.district.example"])
def test_health_is_told_in_production_to_whoever_asks_this_machine_directly(client, settings, host):
    settings.ALLOWED_HOSTS = ["horns.district.example"]
    settings.SECURE_SSL_REDIRECT = True
    answer = client.get("/healthz", headers={"host": host})
    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})
    assert answer.headers["X-Request-Id"]
    assert "Set-Cookie" not in answer.headers


def test_nothing_but_health_is_told_by_another_name_or_without_https(client, settings):
    settings.ALLOWED_HOSTS = ["horns.district.example"]
    settings.SECURE_SSL_REDIRECT = True
    assert reverse("core:health") == HEALTH
    for path in ("/log-in/", "/healthz/", "/healthz/log-in/", "//healthz"):
        assert client.get(path, headers={"host": "127.0.0.1"}).status_code in {301, 400}
    assert client.get("/log-in/", headers={"host": "horns.district.example"}).status_code == 301


@pytest.mark.django_db
def test_first_things_cost_no_query_of_their_own(client, director, django_assert_num_queries):
    """The user is read for every page of the staff anyway."""
    client.force_login(director)
    User.objects.filter(pk=director.pk).update(password_is_first=True)
    with django_assert_num_queries(2):  # session, user
        assert client.get("/").headers["Location"] == "/me/password/"


@pytest.mark.django_db
def test_a_request_tells_the_time_of_the_district(client, monkeypatch):
    met = []
    monkeypatch.setattr("core.middleware.enter_all", met.append)
    client.get(reverse("core:log-in"))
    assert len(met) == 1


class Unread:
    """A body of which nothing may be read."""

    def read(self, *_args):
        raise AssertionError("read")

    readline = read


def sent(client, path, length):
    body = {"wsgi.input": Unread(), "CONTENT_LENGTH": str(length), "CONTENT_TYPE": "multipart/form-data; boundary=x"}
    return client.generic("POST", path, **body)


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/log-in/", "/T/{token}/REPORT"])
def test_a_stranger_who_sends_much_is_refused_unread(client, settings, path):
    token = make_ready_instrument().tags.get().token
    answer = sent(client, path.format(token=token), settings.STRANGERS_BODY_BYTES + 1)
    assert answer.status_code == 413
    assert "Nothing was saved" in answer.text


@pytest.mark.django_db
def test_whoever_was_logged_in_and_sends_much_is_shown_the_way_back_in(client, settings):
    instrument = make_ready_instrument()
    page = reverse("desk:lend-this", args=[instrument.asset_number])
    answer = sent(client, page, 20 * 2**20)
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"{reverse('core:log-in')}?next={page}"


@pytest.mark.django_db
def test_a_page_takes_the_photos_that_it_asks_for_and_no_more(client, director, settings):
    client.force_login(director)
    instrument = make_ready_instrument(school=director.staff_roles.get().school)
    typed, photo = settings.DATA_UPLOAD_MAX_MEMORY_SIZE, settings.UPLOAD_MAX_BYTES
    for name, most in (("inventory:whereabouts", typed), ("inventory:photos", typed + photo)):
        page = reverse(name, args=[instrument.asset_number])
        assert sent(client, page, most + 1).status_code == 413
        with pytest.raises(AssertionError, match="read"):
            sent(client, page, most)


def test_every_page_that_reads_files_says_how_many():
    """What a page's module reads of ``request.FILES``, its view must count: else a photo is refused by its length."""
    for path in Path(settings.BASE_DIR).glob("*/views/*.py"):
        text = path.read_text(encoding="utf-8")
        if "request.FILES" in text and path.name != "base.py":
            assert "    uploads = " in text, path


@pytest.mark.parametrize(("said", "length"), [("", 0), ("12", 12), ("-5", 0), ("1e9", 0), ("٣", 0)])
def test_a_length_is_a_number_or_none(rf, said, length):
    request = rf.get("/")
    request.META["CONTENT_LENGTH"] = said
    assert body_length(request) == length
