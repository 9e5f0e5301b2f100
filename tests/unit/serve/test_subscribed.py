"""The calendar at its address: what RFC 9110 asks of conditional requests (13.1 and 13.2.2), what RFC 5545 asks of the bytes, and who may read."""

from __future__ import annotations

import os
import re
from datetime import UTC, date, datetime
from email.utils import format_datetime, parsedate_to_datetime
from pathlib import Path

import icalendar
import pytest

from planner.door.folder import read_folder
from planner.show.calendar.feeds import feed
from tests.unit.serve.site import Phone, copy_of, fields, phone_for

ON = date(2026, 2, 13)


def address(phone: Phone, which: str = "jobs") -> str:
    if not phone.site.memory.feeds():
        phone.send(f"{phone.base}/calendar", name="my phone")
    return f"/feed/{phone.site.memory.feeds()[0].token}/{which}.ics"


@pytest.mark.parametrize("which", ["jobs", "outlook"])
def test_it_serves_the_bytes_of_the_calendar(phone: Phone, which: str) -> None:
    answer = phone.get(address(phone, which), follow_redirects=False)
    assert answer.status_code == 200 and answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.content == feed(read_folder(phone.folder, ON), which, ON).data  # type: ignore[arg-type]
    assert icalendar.Calendar.from_ical(answer.content).events


def test_a_subscriber_needs_no_paired_device_and_no_cookie(phone: Phone) -> None:
    assert phone.another().get(address(phone)).status_code == 200


def test_head_says_the_same_without_the_bytes(phone: Phone) -> None:
    whole, head = phone.get(address(phone)), phone.client.head(address(phone))
    assert head.status_code == 200 and head.content == b""
    assert {n: head.headers[n] for n in ("etag", "last-modified", "content-type", "content-length")} == {n: whole.headers[n] for n in ("etag", "last-modified", "content-type", "content-length")}


def test_the_mark_is_strong_and_of_the_bytes(phone: Phone) -> None:
    first = phone.get(address(phone))
    assert re.fullmatch(r'"[0-9a-f]{32}"', first.headers["etag"])
    assert phone.get(address(phone)).headers["etag"] == first.headers["etag"] != phone.get(address(phone, "outlook")).headers["etag"]


def test_who_has_these_bytes_is_told_so_and_the_mark_goes_before_the_time(phone: Phone) -> None:
    to, first = address(phone), phone.get(address(phone))
    etag, modified = first.headers["etag"], first.headers["last-modified"]
    long_ago = "Mon, 01 Jan 2001 00:00:00 GMT"
    for headers, status in [
        ({"if-none-match": etag}, 304), ({"if-none-match": f'"other", W/{etag}'}, 304), ({"if-none-match": "*"}, 304), ({"if-none-match": '"other"'}, 200),
        ({"if-modified-since": modified}, 304), ({"if-modified-since": long_ago}, 200), ({"if-modified-since": "yesterday"}, 200),
        ({"if-none-match": '"other"', "if-modified-since": modified}, 200), ({"if-none-match": etag, "if-modified-since": long_ago}, 304),
    ]:
        answer = phone.get(to, headers=headers)
        assert answer.status_code == status, headers
        assert answer.headers["etag"] == etag and answer.headers["last-modified"] == modified
        assert answer.content == (b"" if status == 304 else first.content)


def test_a_new_row_makes_a_new_mark_and_a_later_time(phone: Phone) -> None:
    first = phone.get(address(phone))
    (form, *_) = fields(phone.get(phone.base).text, f"{phone.base}/done")
    phone.watch.at += 5
    phone.send(f"{phone.base}/done", **form)
    second = phone.get(address(phone), headers={"if-none-match": first.headers["etag"], "if-modified-since": first.headers["last-modified"]})
    assert second.status_code == 200 and second.headers["etag"] != first.headers["etag"]
    assert parsedate_to_datetime(second.headers["last-modified"]) > parsedate_to_datetime(first.headers["last-modified"])


def test_the_time_never_goes_back_also_when_rows_or_the_clock_do(phone: Phone) -> None:
    last = parsedate_to_datetime(phone.get(address(phone)).headers["last-modified"])
    lines = phone.journal()
    for n in range(1, 5):
        phone.watch.at -= 86_400  # the clock is set back, and a hand takes rows out
        (phone.folder / "journal.csv").write_text("\n".join(lines[:-n]) + "\n")
        now = parsedate_to_datetime(phone.get(address(phone)).headers["last-modified"])
        assert now >= last
        last = now


def test_the_first_time_is_not_in_the_future(phone: Phone) -> None:
    phone.watch.at = datetime(2026, 2, 1, tzinfo=UTC).timestamp()
    assert phone.get(address(phone)).headers["last-modified"] == format_datetime(datetime(2026, 2, 1, tzinfo=UTC), usegmt=True)


@pytest.mark.parametrize("path", ["/feed/nobody/jobs.ics", "/feed/{token}/jobs", "/feed/{token}/other.ics", "/feed/{token}x/jobs.ics", "/feed/{token}/../jobs.ics", "/feed//jobs.ics"])
def test_whoever_does_not_know_the_address_learns_nothing(phone: Phone, path: str) -> None:
    token = address(phone).split("/")[2]
    assert phone.get(path.format(token=token)).status_code == 404


def test_addresses_cannot_be_guessed_and_differ_for_each_subscriber(phone: Phone) -> None:
    for _ in range(5):
        phone.send(f"{phone.base}/calendar", name="phone")
    tokens = {f.token for f in phone.site.memory.feeds()}
    assert len(tokens) == 5 and all(len(t) >= 32 for t in tokens)


def test_an_address_that_was_taken_away_is_gone_and_others_stay(phone: Phone) -> None:
    for name in ("one", "two"):
        phone.send(f"{phone.base}/calendar", name=name)
    gone, stays = phone.site.memory.feeds()
    assert gone.token in phone.get(f"{phone.base}/calendar").text
    phone.send("/feeds/forget", id=str(gone.id))
    assert phone.get(f"/feed/{gone.token}/jobs.ics").status_code == 404 and phone.get(f"/feed/{stays.token}/jobs.ics").status_code == 200


def test_addresses_are_shown_to_paired_devices_alone(phone: Phone) -> None:
    token = address(phone).split("/")[2]
    assert token in phone.get(f"{phone.base}/calendar").text and "webcal://" in phone.get(f"{phone.base}/calendar").text
    stranger = phone.another()
    for path in ("/calendar", "/more", ""):
        assert token not in stranger.get(phone.base + path).text


def test_a_tank_without_an_id_says_so(tmp_path: Path) -> None:
    folder = copy_of("dry-rock-us", tmp_path / "tank")
    file = folder / "tank.yaml"
    file.write_text("".join(line for line in file.read_text().splitlines(keepends=True) if not line.startswith("id:")))
    phone = phone_for(folder, ON).pair()
    assert phone.get(address(phone)).status_code == 503 and "has no id yet" in phone.words(f"{phone.base}/calendar")


def test_what_was_made_once_is_not_made_again_for_the_next_phone(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    phone.get(address(phone))
    monkeypatch.setattr("planner.serve.feeds.feed", None)
    for _ in range(3):
        assert phone.get(address(phone)).status_code == 200 and phone.get(address(phone, "outlook")).status_code == 200


def test_a_moved_date_comes_without_a_duplicate(phone: Phone) -> None:
    """What a subscriber replaces: the same entry, under its own name, on another day."""
    def entries() -> dict[str, date]:
        return {str(e["UID"]): e["DTSTART"].dt for e in icalendar.Calendar.from_ical(phone.get(address(phone)).content).events}

    raw = [str(e["UID"]) for e in icalendar.Calendar.from_ical(phone.get(address(phone)).content).events]
    assert len(raw) == len(set(raw))
    before = entries()
    plan = phone.site.tanks.look(phone.site.tanks.find()[0]).plan  # type: ignore[union-attr]
    task = next(t for t in plan.tasks if "nitrate" in t.reads and t.state.value == "planned")  # the daily ones stand in the digest alone
    phone.send(f"{phone.base}/postpone", job=task.id, key="key-to-put-off", to=str(date.fromordinal(task.date.toordinal() + 3)))  # type: ignore[union-attr]
    after = entries()
    moved = {uid for uid in before.keys() & after.keys() if before[uid] != after[uid]}
    assert moved and len(after) == len(set(after))


def numbers(phone: Phone) -> dict[str, tuple[str, int, datetime, datetime]]:
    """Each entry's start, SEQUENCE, LAST-MODIFIED and DTSTAMP."""
    return {str(e["UID"]): (str(e["DTSTART"].dt), int(e["SEQUENCE"]), e.decoded("LAST-MODIFIED"), e.decoded("DTSTAMP"))
            for e in icalendar.Calendar.from_ical(phone.get(address(phone)).content).events}


def moved(before: dict[str, tuple[str, int, datetime, datetime]], after: dict[str, tuple[str, int, datetime, datetime]]) -> set[str]:
    """Entries at another time. RFC 5545 3.8.7.4: SEQUENCE must rise with DTSTART; RFC 5546 2.1.5: by equal SEQUENCE the later DTSTAMP
    wins; LAST-MODIFIED (3.8.7.3) rises with any change."""
    found = {uid for uid in before.keys() & after.keys() if before[uid][0] != after[uid][0]}
    assert all(new > old for uid in found for old, new in zip(before[uid][1:], after[uid][1:], strict=True)), [(before[u], after[u]) for u in found]
    assert all(new >= old for uid in before.keys() & after.keys() for old, new in zip(before[uid][1:], after[uid][1:], strict=True))
    return found


@pytest.fixture
def real(tmp_path: Path) -> Phone:
    """On its own clock, with files as old as the clock says."""
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-03-02"), memory=tmp_path / "state.db").pair()
    written(phone)
    return phone


def written(phone: Phone) -> None:
    for name in ("tank.yaml", "journal.csv"):
        os.utime(phone.folder / name, (phone.watch.at, phone.watch.at))


def test_a_description_that_moves_an_entry_moves_its_numbers(real: Phone) -> None:
    before = numbers(real)
    for hour, past_s in (("19:30", 7), ("20:15", 8), ("18:00", 3600)):  # within one minute too
        text = (real.folder / "tank.yaml").read_text("utf-8")
        (real.folder / "tank.yaml").write_text(re.sub(r"reminder_time:.*", f'reminder_time: "{hour}"', text) if "reminder_time" in text else text + f'keeper: {{reminder_time: "{hour}"}}\n', encoding="utf-8")
        real.watch.at += past_s
        written(real)
        after = numbers(real)
        assert moved(before, after)
        before = after


def test_a_row_of_an_earlier_day_that_moves_an_entry_moves_its_numbers(phone: Phone) -> None:
    (form, *_) = fields(phone.get(phone.base).text, f"{phone.base}/done")
    phone.send(f"{phone.base}/done", **form)  # the newest row is of this evening
    before = numbers(phone)
    plan = phone.site.tanks.look(phone.site.tanks.find()[0]).plan  # type: ignore[union-attr]
    task = next(t for t in plan.tasks if "nitrate" in t.reads and t.state.value == "planned")
    journal = phone.folder / "journal.csv"
    journal.write_text(journal.read_text("utf-8") + f"2026-02-12T19:00-06:00,postponed,{task.id},{date.fromordinal(task.date.toordinal() + 3)},,display,\n", encoding="utf-8")  # type: ignore[union-attr]
    assert moved(before, numbers(phone))


def test_nothing_that_stands_still_has_new_bytes_also_after_a_restart_or_when_the_files_are_written_again(real: Phone) -> None:
    first = real.get(address(real)).content
    real.watch.at += 600
    written(real)
    again = phone_for(real.folder, memory=real.folder.parent / "state.db", watch=real.watch)
    assert again.get(address(again)).content == first


def test_a_lost_memory_gives_no_lower_numbers(real: Phone) -> None:
    (real.folder / "tank.yaml").write_text((real.folder / "tank.yaml").read_text("utf-8") + "\n", encoding="utf-8")
    real.watch.at += 5000
    written(real)
    before = numbers(real)
    other = phone_for(real.folder, watch=real.watch).pair()
    assert all(new >= old for uid, entry in numbers(other).items() for old, new in zip(before[uid][1:], entry[1:], strict=True))


def test_taking_an_address_away_is_asked_about_first_and_says_what_is_lost(phone: Phone) -> None:
    address(phone)
    for path in (f"{phone.base}/calendar", "/devices"):
        page = phone.get(path).text
        (asked,) = re.findall(r"<details class=\"other\"><summary>Remove these two addresses.*?</details>", page, re.DOTALL)
        assert page.count('action="/feeds/forget"') == asked.count('action="/feeds/forget"') == 1 and "loses this calendar" in asked


def test_devices_without_a_name_can_be_told_apart(phone: Phone) -> None:
    for _ in range(2):
        phone.watch.at += 3600
        assert phone.another().send("/pair", follow=False, code="40718226").status_code == 303
    names = [d.name for d in phone.site.memory.devices()]
    assert names[1:] == ["device of 2 Mar, 13:00", "device of 2 Mar, 14:00"]
