"""Putting a job off on the page: a job of several tests goes as one, and what an alarm asks for stays."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from planner.serve.tanks import Seen
from tests.unit.serve.site import Phone, copy_of, fields, phone_for, words_of


def seen_by(phone: Phone) -> Seen:
    seen = phone.site.tanks.look(phone.site.tanks.find()[0])
    assert isinstance(seen, Seen)
    return seen


def open_jobs(phone: Phone) -> set[str]:
    return {j.task.id for j in seen_by(phone).day.jobs if j.standing == "open"}


@pytest.mark.parametrize(("story", "day", "to"), [("dry-rock-us", "2026-05-02", "2026-05-08"), ("live-rock-small", "2026-03-29", "2026-03-31")])
def test_a_job_of_several_tests_is_put_off_as_one(tmp_path: Path, story: str, day: str, to: str) -> None:
    phone = phone_for(copy_of(story, tmp_path / "tank", lambda line: line[:10] < day), date.fromisoformat(day)).pair()
    tests = seen_by(phone).plan.tasks
    first, with_it = next((t.id, joined) for t in tests if (joined := [o.id for o in tests if o.tested_with == t.id]))
    (form,) = [f for f in fields(phone.get(phone.base).text, f"{phone.base}/postpone") if f["job"] == first]
    phone.send(f"{phone.base}/postpone", **form, to=to)
    assert open_jobs(phone).isdisjoint({first, *with_it})
    assert all(t.date is not None and t.date >= date.fromisoformat(to) for t in seen_by(phone).plan.tasks if t.id in (first, *with_it))
    phone.send(f"{phone.base}/undo", **fields(phone.get(phone.base).text, f"{phone.base}/undo")[0])
    assert first in open_jobs(phone)


def test_what_an_alarm_asks_for_is_not_offered_to_be_put_off_and_says_why(tmp_path: Path) -> None:
    phone = phone_for(copy_of("live-rock-small", tmp_path / "tank", lambda line: line[:10] < "2026-04-19" and ",big-change/smell#" not in line), date(2026, 4, 19)).pair()
    assert "smell/test#1" not in {f["job"] for f in fields(phone.get(phone.base).text, f"{phone.base}/postpone")}
    before = phone.journal()
    answer = phone.send(f"{phone.base}/postpone", job="smell/test#1", key="key-to-put-off", to="2026-04-25")
    assert answer.status_code == 422 and "is asked for by an alarm, so it is not put off" in words_of(answer.text) and phone.journal() == before


@pytest.mark.parametrize(("to", "told"), [("2026-03-15", False), ("2026-04-12", True)])
def test_a_daily_job_put_off_by_a_month_says_how_often_it_falls_out(tmp_path: Path, to: str, told: bool) -> None:
    """About one part in a hundred evaporates each day (common practice, no source): a month without topping up bares a heater."""
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-03-13"), date(2026, 3, 13)).pair()
    form = next(f for f in fields(phone.get(phone.base).text, f"{phone.base}/postpone") if f["job"].startswith("start-up/top-up"))
    page = words_of(phone.send(f"{phone.base}/postpone", **form, to=to).text)
    assert ("leaves it out 30 times" in page) == told and "postponed" in page
