"""What the page refuses, by the attacks that pages on home networks meet (OWASP cheat sheets: cross-site request forgery,
session management, content security policy; RFC 9110; the DNS rebinding attack of Jackson and others, 2007)."""

from __future__ import annotations

import asyncio
from datetime import date
from pathlib import Path

import pytest

from planner.serve.guard import SECURE, Guard
from planner.serve.memory import WRONG_MOST, WRONG_WITHIN_S
from tests.unit.serve.site import CODE, HOST, ORIGIN, Phone, copy_of, phone_for, words_of

ON = date(2026, 2, 13)


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    return phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-13"), ON)


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8017", "192.168.1.20", "192.168.1.20:80", "192.168.1.20:8017.evil.example", ""])
def test_a_name_that_is_not_this_server_s_is_refused(phone: Phone, host: str) -> None:
    """A page that lets its own name point to this address would otherwise count as ours."""
    assert phone.get(phone.base, headers={"host": host}).status_code == 421


def test_the_names_that_were_printed_are_taken(phone: Phone) -> None:
    assert phone.get(phone.base, headers={"host": "LOCALHOST:8017"}).status_code == 200


@pytest.mark.parametrize("headers", [{"origin": "http://evil.example"}, {"origin": "null"}, {"origin": "http://localhost:8017"}, {"origin": ORIGIN, "sec-fetch-site": "cross-site"},
                                     {"origin": ORIGIN, "sec-fetch-site": "same-site"}, {"origin": f"http://{HOST}@evil.example"}], ids=str)
def test_what_another_page_sends_is_refused(phone: Phone, headers: dict[str, str]) -> None:
    phone.pair()
    before = phone.journal()
    assert phone.send(f"{phone.base}/done", headers=headers, job="start-up/top-up#2", key="some-key-of-a-page").status_code == 403
    assert phone.journal() == before


def test_what_does_not_say_where_it_comes_from_is_refused(phone: Phone) -> None:
    phone.pair()
    assert phone.client.post(f"{phone.base}/done", data={"job": "start-up/top-up#2", "key": "some-key-of-a-page"}).status_code == 403


def test_an_unpaired_device_reads_and_does_not_write(phone: Phone) -> None:
    assert phone.get(phone.base).status_code == 200
    before = phone.journal()
    answer = phone.send(f"{phone.base}/done", follow=False, job="start-up/top-up#2", key="some-key-of-a-page")
    assert answer.status_code == 303 and answer.headers["location"].startswith("/pair") and phone.journal() == before


def test_the_list_of_devices_is_for_paired_ones(phone: Phone) -> None:
    assert phone.client.get("/devices", follow_redirects=False).headers["location"].startswith("/pair")
    assert "phone (this one)" in phone.pair().words("/devices")


def test_a_removed_device_does_not_write_any_more(phone: Phone) -> None:
    phone.pair()
    phone.send("/devices/forget", id="1")
    before = phone.journal()
    phone.send(f"{phone.base}/done", job="start-up/top-up#2", key="some-key-of-a-page")
    assert phone.journal() == before


def test_codes_cannot_be_guessed_in_a_row(phone: Phone) -> None:
    for n in range(WRONG_MOST):
        assert phone.send("/pair", follow=False, code=f"{n:08}").status_code == 403
    assert phone.send("/pair", follow=False, code=CODE).status_code == 429
    phone.watch.at += WRONG_WITHIN_S + 1
    assert phone.send("/pair", follow=False, code=CODE).status_code == 303


def test_codes_cannot_be_guessed_at_the_same_moment_either(phone: Phone) -> None:
    import threading

    said = []
    threads = [threading.Thread(target=lambda n=n: said.append(phone.another().send("/pair", follow=False, code=f"{n:08}").status_code)) for n in range(WRONG_MOST + 8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(said) == [403] * WRONG_MOST + [429] * 8


def test_right_codes_lock_nobody_out(phone: Phone) -> None:
    assert {phone.send("/pair", follow=False, code=CODE).status_code for _ in range(WRONG_MOST + 3)} == {303}


def test_a_clock_that_is_set_back_locks_nobody_out(phone: Phone) -> None:
    for n in range(WRONG_MOST):
        phone.send("/pair", follow=False, code=f"{n:08}")
    phone.watch.at -= 86400
    assert phone.send("/pair", follow=False, code=CODE).status_code == 303


def test_the_cookie_is_kept_from_scripts_and_other_sites_and_only_its_digest_is_remembered(phone: Phone) -> None:
    cookie = phone.send("/pair", follow=False, code=CODE).headers["set-cookie"]
    assert "HttpOnly" in cookie and "SameSite=strict" in cookie and "Path=/" in cookie
    secret = cookie.partition("=")[2].partition(";")[0]
    assert secret not in str(phone.site.memory._run("select * from device")) and len(secret) >= 43


@pytest.mark.parametrize("to", ["//evil.example/", "https://evil.example/", "/\\evil.example"])
def test_pairing_leads_nowhere_else(phone: Phone, to: str) -> None:
    assert phone.send("/pair", follow=False, code=CODE, next=to).headers["location"] == "/"


@pytest.mark.parametrize("path", ["/tank/../../etc/passwd", "/tank/%2e%2e%2f%2e%2e%2fetc%2fpasswd", "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/tank/%00", "/static/%00"])
def test_no_address_leads_out_of_what_is_served(phone: Phone, path: str) -> None:
    answer = phone.get(path)
    assert answer.status_code in (400, 404) and "root:" not in answer.text and "import" not in answer.text


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_refused(phone: Phone, method: str) -> None:
    assert phone.client.request(method, phone.base).status_code == 405


def test_every_sending_address_is_deaf_to_get(phone: Phone) -> None:
    from planner.serve.app import PAGES

    phone.pair()
    before = phone.journal()
    sending = [p.path for p in PAGES if p.send is not None and p.show is None]
    assert len(sending) >= 5
    for path in sending:
        assert phone.get(path.replace("{slug}", phone.base.removeprefix("/tank/")), params={"job": "start-up/top-up#2", "key": "some-key-of-a-page", "id": "1"}).status_code == 405
    assert phone.journal() == before and len(phone.site.memory.devices()) == 1


def test_a_form_that_is_too_large_is_refused(phone: Phone) -> None:
    phone.pair()
    assert phone.send(f"{phone.base}/done", job="x" * 70_000).status_code == 413
    assert phone.send(f"{phone.base}/done", job=["x"] * 300).status_code == 413
    assert phone.get(phone.base + "?" + "x" * 5000).status_code == 414


def test_only_forms_are_read(phone: Phone) -> None:
    phone.pair()
    assert phone.client.post(f"{phone.base}/done", json={"job": "x"}, headers={"origin": ORIGIN}).status_code == 415


def test_every_answer_forbids_what_is_not_its_own(phone: Phone) -> None:
    for answer in (phone.get(phone.base), phone.get("/nothing"), phone.get("/static/page.css"), phone.get(phone.base, headers={"host": "evil.example"})):
        assert {name: answer.headers.get(name) for name in SECURE} == SECURE
        assert "unsafe" not in answer.headers["content-security-policy"] and "http" not in answer.headers["content-security-policy"]


def test_no_page_asks_another_server_for_anything(phone: Phone) -> None:
    import re

    for path in (phone.base, "/static/page.css", "/static/page.js"):
        assert not re.findall(r'(?:src|href|action)="(?!/|#)[^"]*"|url\(|@import|https?://(?!www\.w3\.org)', phone.get(path).text)


def test_a_page_is_not_kept_by_the_browser(phone: Phone) -> None:
    assert phone.get(phone.base).headers["cache-control"] == "no-store"


def test_a_body_that_does_not_come_is_not_waited_for() -> None:
    async def app(scope, receive, send):  # type: ignore[no-untyped-def]
        while (await receive()).get("more_body"):
            pass

    async def never():  # type: ignore[no-untyped-def]
        await asyncio.sleep(60)

    sent = []

    async def send(message):  # type: ignore[no-untyped-def]
        sent.append(message)

    scope = {"type": "http", "method": "POST", "path": "/", "raw_path": b"/", "query_string": b"", "headers": [(b"host", HOST.encode()), (b"origin", ORIGIN.encode()), (b"content-length", b"10")]}
    asyncio.run(Guard(app, lambda: (HOST,), body_within_s=0.05)(scope, never, send))
    assert sent[0]["status"] == 408


def test_a_body_that_says_less_than_it_sends_is_cut_off() -> None:
    read = []

    async def app(scope, receive, send):  # type: ignore[no-untyped-def]
        while True:
            read.append(len((await receive())["body"]))

    async def more():  # type: ignore[no-untyped-def]
        return {"type": "http.request", "body": b"x" * 10_000, "more_body": True}

    sent = []

    async def send(message):  # type: ignore[no-untyped-def]
        sent.append(message)

    scope = {"type": "http", "method": "POST", "path": "/", "raw_path": b"/", "query_string": b"", "headers": [(b"host", HOST.encode()), (b"origin", ORIGIN.encode())]}
    asyncio.run(Guard(app, lambda: (HOST,))(scope, more, send))
    assert sent[0]["status"] == 413 and sum(read) <= 65536


def test_an_unknown_tank_says_so(phone: Phone) -> None:
    answer = phone.get("/tank/nobody")
    assert answer.status_code == 404 and "There is no tank of this name here." in words_of(answer.text)
