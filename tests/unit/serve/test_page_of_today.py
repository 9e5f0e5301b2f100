"""The page of today on a phone: what the terminal says, ticks that are written once, and taking them back."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.serve.asking import Ask
from planner.serve.entry import key_of
from tests.unit.serve.site import Phone, copy_of, fields, phone_for, words_of

ON = date(2026, 2, 13)


def ticks(phone: Phone) -> list[dict[str, str]]:
    return [f for f in fields(phone.get(phone.base).text, f"{phone.base}/done") if not f["key"].endswith("a") and "shown" not in f]


def done_rows(phone: Phone) -> list[str]:
    return [line for line in phone.journal() if line.startswith("2026-02-13") and ",done," in line]


def test_it_says_what_the_terminal_says(phone: Phone) -> None:
    page = phone.words(phone.base)
    # The kit, in steps of 0.25 as NO2, read its lowest one on 11 February.
    shown = CliRunner().invoke(newtank, ["today", str(phone.folder), "--on", str(ON)]).output
    for said in ("Step 1 of 4: ammonia is in, and only a trace of nitrite shows yet.", "No fish, shrimp, snails or corals.", "Wet floor? Touch no plug. Switch off at the fuse box, hands dry.", "Check the tank and the thermometer"):
        assert said in page and said in " ".join(shown.split())


def test_a_tick_is_written_as_the_command_writes_it(phone: Phone, tmp_path: Path) -> None:
    other = copy_of("dry-rock-us", tmp_path / "other", lambda line: line[:10] < "2026-02-13")
    (first, *_) = ticks(phone)
    phone.send(f"{phone.base}/done", **first)
    assert CliRunner().invoke(newtank, ["done", "--tank", str(other), first["job"], "--on", str(ON)]).exit_code == 0
    told = [line.rpartition(",")[0] for line in phone.journal()]
    assert told == [line.rpartition(",")[0] for line in (other / "journal.csv").read_text().splitlines()]  # all but the tag, which is drawn


def test_a_tick_that_arrives_twice_is_written_once(phone: Phone) -> None:
    (first, *_) = ticks(phone)
    for _ in range(3):
        assert phone.send(f"{phone.base}/done", **first).status_code == 200
    assert len(done_rows(phone)) == 1


def test_a_tick_that_arrives_again_after_it_was_taken_back_stays_taken_back(phone: Phone) -> None:
    (first, *_) = ticks(phone)
    page = phone.send(f"{phone.base}/done", **first).text
    phone.send(f"{phone.base}/undo", **fields(page, f"{phone.base}/undo")[0])
    phone.send(f"{phone.base}/done", **first)
    assert first in [f | {"key": first["key"]} for f in ticks(phone)], "it is open again"


def test_an_entry_that_was_remembered_and_never_written_is_written_when_it_is_sent_again(phone: Phone) -> None:
    """The process died between the two."""
    (first, *_) = ticks(phone)
    sent = Ask(phone.site, "POST", f"{phone.base}/done", "", form={name: (value,) for name, value in first.items()})
    phone.site.memory.remember(key_of(sent), phone.site.tanks.find()[0].slug, "zz22", 1)
    phone.send(f"{phone.base}/done", **first)
    assert len(done_rows(phone)) == 1 and "[zz22]" in done_rows(phone)[0]


def test_a_tick_is_offered_to_be_taken_back_for_a_minute_and_then_takes_two_touches(phone: Phone) -> None:
    (first, *_) = ticks(phone)
    page = phone.send(f"{phone.base}/done", **first).text
    assert 'aria-label="What was just written"' in page
    phone.watch.at += 61
    page = phone.get(phone.base).text
    assert 'aria-label="What was just written"' not in page and "That was a slip" in page
    phone.send(f"{phone.base}/undo", **fields(page, f"{phone.base}/undo")[0])
    assert phone.journal()[-1].split(",")[1] == "undo" and first["job"] in [f["job"] for f in ticks(phone)]


def test_taking_back_names_one_entry_and_leaves_a_later_one_of_somebody_else(phone: Phone) -> None:
    first, second = ticks(phone)
    page = phone.send(f"{phone.base}/done", **first).text
    tag = fields(page, f"{phone.base}/undo")[0]["tag"]
    phone.another().pair().send(f"{phone.base}/done", **second)
    phone.send(f"{phone.base}/undo", tag=tag)
    assert [f["job"] for f in ticks(phone)] == [first["job"]]


def test_a_second_phone_that_ticks_the_same_job_is_asked(phone: Phone) -> None:
    (first, *_) = ticks(phone)
    phone.send(f"{phone.base}/done", **first)
    again = phone.another().pair().send(f"{phone.base}/done", **(first | {"key": "another-key-of-another-phone"}))
    assert "is ticked already" in words_of(again.text) and "“Check the tank and the thermometer”" in words_of(again.text)
    assert len(done_rows(phone)) == 1


def test_a_command_between_the_page_and_the_tick_is_seen(phone: Phone) -> None:
    (first, second) = ticks(phone)
    assert CliRunner().invoke(newtank, ["done", "--tank", str(phone.folder), first["job"], "--on", str(ON)]).exit_code == 0
    phone.send(f"{phone.base}/done", **second)
    assert len(done_rows(phone)) == 2 and "done: job" not in phone.words(phone.base)


def test_what_is_asked_names_the_amount_that_was_typed(tmp_path: Path) -> None:
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-05"), date(2026, 2, 5)).pair()
    dose = next(f for f in ticks(phone) if f["job"].startswith("cycle/") and "dose" in f["job"])
    page = phone.send(f"{phone.base}/done", **dose | {"amount": "1.9"})
    assert "was it done, with 1.9 g?" in words_of(page.text)


def test_a_dose_is_asked_about_before_it_is_written(tmp_path: Path) -> None:
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-05"), date(2026, 2, 5)).pair()
    dose = next(f for f in ticks(phone) if f["job"].startswith("cycle/") and "dose" in f["job"])
    before = phone.journal()
    page = phone.send(f"{phone.base}/done", **dose)
    assert "was it done?" in words_of(page.text) and phone.journal() == before
    (sure,) = fields(page.text, f"{phone.base}/done")
    phone.send(f"{phone.base}/done", **sure)
    assert any(",dosed,ammonia," in line for line in phone.journal()[len(before):])


def test_a_job_is_put_off_and_left_out(phone: Phone) -> None:
    first, second = ticks(phone)
    phone.send(f"{phone.base}/postpone", job=first["job"], key="key-to-put-off", to="2026-02-15")
    assert f",postponed,{first['job']},2026-02-15," in phone.journal()[-1]
    phone.send(f"{phone.base}/skip", job=second["job"], key="key-to-leave-out")
    assert f",skipped,{second['job']}," in phone.journal()[-1]


def test_what_protects_animals_is_not_left_out_and_says_so_without_a_command(phone: Phone) -> None:
    before = phone.journal()
    page = words_of(phone.send(f"{phone.base}/skip", job="leak-test/watch", key="key-to-leave-out").text)
    assert "protects people or animals" in page and "newtank" not in page and "leak-test/" not in page
    assert phone.journal() == before


def test_names_are_words_and_never_markup(tmp_path: Path) -> None:
    folder = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-13")
    file = folder / "tank.yaml"
    hostile = '<img src=x onerror="alert(1)">'
    file.write_text("\n".join(f"name: '{hostile}'" if line.startswith("name:") else line for line in file.read_text().splitlines()) + "\n")
    page = phone_for(folder, ON).get("/").text
    assert "<img" not in page and "&lt;img" in page


def test_a_tank_file_that_cannot_be_read_says_where(phone: Phone) -> None:
    (phone.folder / "tank.yaml").write_text("tank: [", encoding="utf-8")
    page = phone.words(phone.base)
    assert "Nothing can be planned until this is mended." in page and "tank.yaml, line 1: The structure of the file cannot be followed here. Compare" in page and str(phone.folder) not in page


def test_a_journal_that_cannot_be_written_says_so_and_writes_nothing(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*args: object) -> None:
        raise OSError(28, "No space left on device")

    (first, *_) = ticks(phone)
    before = phone.journal()
    monkeypatch.setattr("planner.files.journal_file.put_whole_file", full)
    page = phone.send(f"{phone.base}/done", **first)
    assert page.status_code == 507 and "The disk is full" in words_of(page.text) and phone.journal() == before
    monkeypatch.undo()
    phone.send(f"{phone.base}/done", **first)
    assert len(done_rows(phone)) == 1


def test_an_hour_that_the_clocks_leave_out_moves_forward(tmp_path: Path) -> None:
    """Europe/London, 29 March 2026: 01:00 to 02:00 is left out (tz database)."""
    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-03-01\ntimezone: Europe/London\ntank: {volume: 100 L}\nkeeper: {reminder_time: \"01:30\"}\n", encoding="utf-8")
    phone = phone_for(tmp_path / "tank", date(2026, 3, 29)).pair()
    for n in range(2):
        phone.send(f"{phone.base}/test/save", key=f"key-of-the-night-{n}", **{"value:ph.display": "8.1"})
    assert [line[:22] for line in phone.journal()[1:]] == ["2026-03-29T02:30+01:00", "2026-03-29T02:31+01:00"]


def test_without_a_pretended_day_an_entry_has_its_own_second(tmp_path: Path) -> None:
    from datetime import UTC, datetime

    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-03-01\ntimezone: Europe/London\ntank: {volume: 100 L}\n", encoding="utf-8")
    phone = phone_for(tmp_path / "tank")
    phone.watch.at = datetime.now(UTC).timestamp()
    phone.pair().send(f"{phone.base}/test/save", key="key-of-a-test", **{"value:ph.display": "8.1"})
    written = datetime.fromisoformat(phone.journal()[-1].partition(",")[0])
    assert abs((written - datetime.now(UTC)).total_seconds()) < 120


def test_a_mistake_of_ours_says_so_and_shows_no_code(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    from starlette.testclient import TestClient

    from planner.serve.app import make_app

    monkeypatch.setattr("planner.serve.today_page.as_printed", None)
    answer = TestClient(make_app(phone.site), base_url=str(phone.client.base_url), raise_server_exceptions=False).get(phone.base)
    assert answer.status_code == 500 and "mistake of ours" in answer.text and "Traceback" not in answer.text


def test_going_back_and_filling_in_something_else_is_another_entry(phone: Phone) -> None:
    for litres in ("20 L", "20 L", "25 L"):
        phone.send(f"{phone.base}/fact", key="key-of-one-form", kind="changed_water", value=litres, sure="yes")
    assert [line.split(",")[3] for line in phone.journal() if line.startswith("2026-02-13") and ",changed_water," in line] == ["20", "25"]


@pytest.mark.parametrize(("age", "hours"), [("60", 0), ("7200", 2), ("90000", 25), ("9999999", 0), ("-5", 0), ("x", 0)])
def test_what_waited_on_the_phone_has_the_time_at_which_it_was_entered(tmp_path: Path, age: str, hours: float) -> None:
    from datetime import UTC, datetime

    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-03-01\ntimezone: Europe/London\ntank: {volume: 100 L}\n", encoding="utf-8")
    phone = phone_for(tmp_path / "tank")
    phone.watch.at = datetime.now(UTC).timestamp()
    phone.pair().send(f"{phone.base}/test/save", key="key-of-a-test", age=age, **{"value:ph.display": "8.1"})
    written = datetime.fromisoformat(phone.journal()[-1].partition(",")[0])
    assert abs((datetime.now(UTC) - written).total_seconds() - hours * 3600) < 120


def in_danger(phone: Phone, event: str = "palytoxin") -> str:
    phone.send(f"{phone.base}/happened", key=f"key-of-{event}", what=event)
    return str(phone.get(phone.base).text)


def test_jobs_come_before_the_forecast_and_the_shop(phone: Phone) -> None:
    page = phone.get(phone.base).text
    assert page.index('<ol class="jobs">') < page.index('aria-label="Where we are"') < page.index("May I buy an animal today?")


def test_while_somebody_is_in_danger_the_steps_come_first_and_open(phone: Phone) -> None:
    page = in_danger(phone)
    first = page.index("<ol class=\"jobs\">")
    assert page.index('class="alarms"') < page.index('aria-label="What was just written"') < first < page.index('aria-label="Where we are"')
    assert '<details class="steps" open>' in page[first : page.index("Rinse an eye or skin that was hit at once")]


def test_what_helps_people_is_neither_put_off_nor_left_out(phone: Phone) -> None:
    before = {f["job"] for f in fields(phone.get(phone.base).text, f"{phone.base}/postpone")}
    page = in_danger(phone)
    offered = {f["job"] for act in ("postpone", "skip") for f in fields(page, f"{phone.base}/{act}")}
    assert before and offered, "ordinary jobs may wait"
    assert not any(id.startswith("palytoxin/") for id in offered) and 'value="palytoxin/help' in page


def test_a_job_that_was_done_yesterday_is_ticked_on_that_day(phone: Phone) -> None:
    form = next(f for f in fields(phone.get(phone.base).text, f"{phone.base}/done") if f.get("shown"))
    assert form["shown"] == str(ON)
    day = str(ON - timedelta(days=1))
    phone.send(f"{phone.base}/done", **form, day=day)
    assert any(line.startswith(f"{day},done,{form['job']}") for line in phone.journal()), phone.journal()[-2:]


def test_what_is_taken_back_is_said(phone: Phone) -> None:
    page = phone.send(f"{phone.base}/done", **ticks(phone)[0])
    words = words_of(page.text)
    assert words.count("Check the tank and the thermometer: done") == 3, "once with the way back, once for its button, once in the list"
    (form, *_) = fields(page.text, f"{phone.base}/undo")
    assert "Taken back Check the tank and the thermometer: done" in words_of(phone.send(f"{phone.base}/undo", **form).text)


def test_a_day_to_come_is_named_once_for_all_its_jobs(tmp_path: Path) -> None:
    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-02-13\ntank: {volume: 100 L}\n", encoding="utf-8")
    page = phone_for(tmp_path / "tank", ON).get("/tank/tank").text
    soon = page.partition('<dl class="soon">')[2].partition("</dl>")[0]
    days = re.findall(r"<dt>([^<]+)</dt>", soon)
    assert len(days) == len(set(days)) < soon.count(" min)")


@pytest.mark.parametrize(("path", "form", "said"), [
    ("happened", {"what": "leak"}, "Water"), ("fact", {"kind": "poured", "what": "fresh", "value": "1 gal", "sure": "yes"}, "Poured in: pure water 1 gal"),
    ("fact", {"kind": "changed_water", "value": "5 gal", "shown": "2026-02-13", "day": "2026-02-09", "sure": "yes"}, "Water changed: 5 gal, Mon 9 Feb"),
    ("test/save", {"value:calcium.display": "420", "unit:calcium.display": "mg/L"}, "calcium 420 mg/L"), ("postpone", {"to": "2026-02-16"}, "postponed to Mon 16 Feb"),
], ids=["an event", "water", "a row of another day", "a reading", "a put-off"])
def test_whatever_was_written_today_can_be_taken_back_when_its_minute_is_over(phone: Phone, path: str, form: dict[str, str], said: str) -> None:
    more = {"job": fields(phone.get(phone.base).text, f"{phone.base}/postpone")[0]["job"]} if path == "postpone" else {}
    before = phone.site.tanks.look(phone.site.tanks.find()[0]).folder.journal.rows  # type: ignore[union-attr]
    phone.send(f"{phone.base}/{path}", key="key-of-an-entry", **form, **more)
    phone.watch.at += 3600
    page = phone.get(phone.base).text
    slips = page.partition('<details class="fold slips">')[2].partition("</details>")[0]
    assert said in words_of(f"<main>{slips}</main>"), slips
    phone.send(f"{phone.base}/undo", **fields(slips, f"{phone.base}/undo")[0])
    assert phone.site.tanks.look(phone.site.tanks.find()[0]).folder.journal.rows == before  # type: ignore[union-attr]


def test_an_alarm_that_was_a_slip_is_taken_back_right_below_it(phone: Phone) -> None:
    page = in_danger(phone, "leak")
    box = page.index('<section class="alarms"')
    assert box < page.index('class="back"') < page.index('<ol class="jobs">')
    phone.watch.at += 61
    page = phone.get(phone.base).text
    assert page.index('<section class="alarms"') < page.index('class="fold slips"') < page.index('<ol class="jobs">')


def test_somebody_who_is_hurt_comes_before_the_leak_and_his_help_begins_at_the_fuse_box(phone: Phone) -> None:
    """First make the place safe, then help (common practice of first aid, no source): the first step of the help does both."""
    in_danger(phone, "leak")
    page = in_danger(phone, "sting")
    box, jobs = page.partition('class="alarms"')[2].partition("</section>")[0], page.partition('<ol class="jobs">')[2]
    assert box.index("stung") < box.index("Water is where")
    hurt, leak = (next(job for job in jobs.split('<li class="job"') if said in job) for said in ('value="sting/first-aid', 'value="leak/stop'))
    assert jobs.index(hurt) < jobs.index(leak) and "fuse box" in hurt.partition("<ol")[2].partition("</li>")[0]
    assert all('<details class="steps" open>' in job for job in (hurt, leak))


def test_an_entry_of_several_rows_is_said_once_after_it(phone: Phone) -> None:
    form = {"value:nitrite.display": "1", "unit:nitrite.display": "mg/L as NO2", "value:ammonia.display": "1", "unit:ammonia.display": "mg/L as NH3"}
    page = phone.send(f"{phone.base}/test/save", key="key-of-a-test", **form).text
    (said,) = re.findall(r'<section class="did"[^>]*>(.*?)</section>', page, re.DOTALL)
    assert said.count("<strong>Written</strong>") == 1


def test_after_many_ticks_one_stands_there_and_the_others_are_folded(phone: Phone) -> None:
    for form in ticks(phone):
        page = phone.send(f"{phone.base}/done", **form).text
    assert page.count("<strong>Written</strong>") == 1 and len(fields(page.partition('class="fold slips"')[2], f"{phone.base}/undo")) >= 1


def test_what_goes_first_is_named_as_it_stands_on_the_list(tmp_path: Path) -> None:
    """Three tests of this day are one job, under the name of one of them."""
    page = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-05-03"), date(2026, 5, 3)).get("/tank/tank").text
    titles = [words_of(f"<main>{t}</main>") for t in re.findall(r'<p class="title">(.*?)</p>', page)]
    told = unescape(page).replace("\u00a0", " ")
    named, numbers = re.findall(r"“([^”]+)”(?: \(job \d+\))? goes first", told), re.findall(r"Job (\d+) sets today's meal", told)
    assert all(name in titles for name in named), (named, titles)
    assert numbers and all(titles[int(n) - 1] == "Test one week after the new fish" for n in numbers), (numbers, titles)


def test_of_a_dose_that_no_test_has_called_yet_the_page_says_what_the_terminal_says(tmp_path: Path) -> None:
    folder = tmp_path / "tank"
    folder.mkdir()
    (folder / "tank.yaml").write_text("start: 2026-01-01\ntank: {volume: 100 L}\nrock: {kind: dry, mass: 8 kg}\nalready: {start-up: 2026-01-10}\n", encoding="utf-8")
    rows = ("2026-01-11T18:00+00:00,dosed,ammonia,1,g", "2026-01-20,reading,nitrite,1,mg/L as N", "2026-02-11,reading,ammonia,0,mg/L as N", "2026-02-11,reading,nitrite,1,mg/L as N", "2026-02-11T18:10+00:00,dosed,ammonia,0.44,g")
    (folder / "journal.csv").write_text("when,kind,what,value,unit,where,note\n" + "".join(f"{row},display,\n" for row in rows), encoding="utf-8")
    day = date(2026, 2, 12)
    shown = CliRunner().invoke(newtank, ["today", str(folder), "--on", str(day)]).output
    soon = unescape(phone_for(folder, day).get("/tank/tank").text.partition('<dl class="soon">')[2].partition("</dl>")[0])
    said = "if today's test allows it: Feed the filter"
    assert said in " ".join(shown.split()) and said in soon
