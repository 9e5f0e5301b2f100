"""A sloppy keeper exports on forty days in a row, with two machines, a lost, a torn and an old log.

A phone that follows RFC 5546 2.1.5 (the highest SEQUENCE wins, at equal SEQUENCE the latest DTSTAMP) imports every file. It
is read by `icalendar` from the bytes alone; what must ring comes from the plan, not from the code that makes entries.
"""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import icalendar
import pytest

from planner.cli.share import export_calendar
from planner.door.folder import Loaded, Rules, read_folder, read_rules
from planner.show.calendar.entries import last_day
from planner.terms.records import Plan, State
from tests.story_facts import STORIES
from tests.truth.ical_lint import lint
from tests.truth.test_calendar_truth import Seen, read_by_ical, read_by_vobject

pytestmark = pytest.mark.slow
BEGIN = date(2026, 1, 26)
DAYS = [BEGIN + timedelta(days=n) for n in range(40)]
WEEK_MOST = 12
PLANS: dict[date, tuple[Loaded, Plan]] = {}


@dataclass(frozen=True)
class Known:
    """One entry on the phone."""

    sequence: int
    stamp: datetime
    day: date
    title: str
    status: str
    rings: bool


@dataclass
class Phone:
    known: dict[str, Known] = field(default_factory=dict)
    went_back: list[str] = field(default_factory=list)

    def take(self, data: bytes) -> dict[str, Known]:
        file = {}
        for event in icalendar.Calendar.from_ical(data).walk("VEVENT"):
            start = event.decoded("DTSTART")
            one = Known(int(event["SEQUENCE"]), event.decoded("DTSTAMP"), start.date() if isinstance(start, datetime) else start,
                        str(event["SUMMARY"]), str(event["STATUS"]), bool(event.subcomponents))
            uid = str(event["UID"])
            assert uid not in file, f"{one.title} stands twice in one file"
            file[uid] = one
            before = self.known.get(uid)
            if before is not None and (one.sequence, one.stamp) < (before.sequence, before.stamp):
                self.went_back.append(f"{one.day} {one.title}")
            if before is None or (one.sequence, one.stamp) > (before.sequence, before.stamp):
                self.known[uid] = one
        return file

    def living(self) -> dict[str, Known]:
        return {uid: k for uid, k in self.known.items() if k.status != "CANCELLED"}


@dataclass(frozen=True)
class Evening:
    """One day's export: what the plan was, what the file says, what the phone then held."""

    plan: Plan
    data: bytes
    file: dict[str, Known]
    phone: dict[str, Known]
    went_back: list[str]


@pytest.fixture(scope="module")
def rules() -> Rules:
    return read_rules()


def sloppy_rows(on: date) -> list[str]:
    """The story's journal by somebody who writes things down two days out of three, not at all for ten days, and gives up the
    weekly tests on the way."""
    lines = (STORIES / "dry-rock-us" / "journal.csv").read_text(encoding="utf-8").splitlines()
    hole = range((BEGIN + timedelta(days=24)).toordinal(), (BEGIN + timedelta(days=34)).toordinal())
    written = next(d for d in range(on.toordinal(), 0, -1) if d % 3 and d not in hole)
    gave_up = (BEGIN + timedelta(days=15)).isoformat()
    weekly = ("weekly-tests", "nitrate", "reading,ph", "alkalinity", "salinity")
    return [lines[0], *(r for r in lines[1:] if date.fromisoformat(r[:10]).toordinal() <= written and not (r[:10] >= gave_up and any(w in r for w in weekly)))]


def evenings(place: Path, rules: Rules, upset: bool) -> Iterator[Evening]:
    """`upset`: a second machine with a log of its own exports every third day into the same file; on some days the log is lost, torn or an old copy."""
    one, other, target, phone = place / "one", place / "other", place / "den.ics", Phone()
    for folder in (one, other):
        shutil.copytree(STORIES / "dry-rock-us", folder, ignore=shutil.ignore_patterns("expected"))
    log, old = one / "calendar-log.csv", place / "old.csv"
    for n, on in enumerate(DAYS):
        if upset:
            _upset(n, log, old)
        folder = other if upset and n % 3 == 2 else one
        (folder / "journal.csv").write_text("\n".join(sloppy_rows(on)) + "\n", encoding="utf-8")
        if on not in PLANS:  # the same in every folder, and dear
            read = read_folder(folder, on, rules)
            assert isinstance(read, Loaded)
            PLANS[on] = read, read.plan()
        loaded, plan = replace(PLANS[on][0], path=folder), PLANS[on][1]
        revision, _, problems = export_calendar(loaded, plan, target, True, datetime.combine(on, time(19), UTC))
        assert revision is not None, problems
        file = phone.take(data := target.read_bytes())
        yield Evening(plan, data, file, phone.living(), list(phone.went_back))


def _upset(n: int, log: Path, old: Path) -> None:
    if n == 9:
        shutil.copy(log, old)
    elif n == 15:
        log.unlink()
    elif n == 21:
        data = log.read_bytes()
        log.write_bytes(data[: len(data) - 31])
    elif n == 27:
        shutil.copy(old, log)


@pytest.fixture(scope="module", params=[False, True], ids=["one machine", "two machines and a lost log"])
def lived(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory, rules: Rules) -> list[Evening]:
    return list(evenings(tmp_path_factory.mktemp("lived"), rules, request.param))


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def test_no_week_holds_more_than_twelve_entries(lived: list[Evening]) -> None:
    full = {(e.plan.on, week): n for e in lived for week, n in Counter(_monday(k.day) for k in e.phone.values()).items() if n > WEEK_MOST}
    assert full == {}


def test_no_day_rings_twice(lived: list[Evening]) -> None:
    assert [(e.plan.on, day) for e in lived for day, n in Counter(k.day for k in e.phone.values() if k.rings).items() if n > 1] == []


def _to_ring(plan: Plan) -> set[date]:
    """The days of the next four weeks on which a job stands that may be done and is not late, by the plan alone."""
    return {t.date for t in plan.tasks if t.date is not None and t.state in (State.DUE, State.PLANNED) and not t.tentative
            and not (t.due is not None and t.due < plan.on) and t.date <= plan.on + timedelta(days=28)}


def test_every_day_of_four_weeks_with_a_job_rings_whether_or_not_the_jobs_before_were_ticked(lived: list[Evening]) -> None:
    assert sum(len(_to_ring(e.plan)) for e in lived) > 500
    assert [(e.plan.on, day) for e in lived for day in sorted(_to_ring(e.plan)) if not any(k.rings and k.day == day for k in e.phone.values())] == []


def test_the_phone_rings_to_the_end_and_then_asks_for_a_new_export(lived: list[Evening]) -> None:
    for e in lived:
        last = max((k for k in e.phone.values() if k.rings), key=lambda k: k.day)
        assert (last.title.split(":")[0], last.day) == ("Export again", last_day(e.plan.on))


def test_somebody_behind_hears_of_it_on_a_day_that_rings(lived: list[Evening]) -> None:
    """At the latest on the third, seventh or fourteenth day of what became late, so within a fortnight of any day."""
    behind = [e for e in lived if any(t.state is State.LATE and t.calendar and t.key != "cycle/tests" for t in e.plan.tasks)]
    assert len(behind) > 25
    for e in behind:
        (late,) = (k for k in e.file.values() if k.title.startswith("Late: "))
        assert e.plan.on <= late.day <= e.plan.on + timedelta(days=14)
        assert any(k.rings and k.day == late.day for k in e.phone.values())


def test_nothing_on_the_phone_is_left_over(lived: list[Evening]) -> None:
    assert [(e.plan.on, k.day, k.title) for e in lived for uid, k in e.phone.items() if k.day >= e.plan.on and uid not in e.file] == []


def test_the_phone_holds_what_the_last_file_says(lived: list[Evening]) -> None:
    wrong = [(e.plan.on, k.day, k.title) for e in lived for uid, k in e.file.items() if k.status != "CANCELLED" and e.phone.get(uid) != k]
    assert wrong == []


def test_no_title_stands_twice_on_a_day(lived: list[Evening]) -> None:
    assert [(e.plan.on, twice) for e in lived for twice, n in Counter((k.day, k.title) for k in e.phone.values()).items() if n > 1] == []


def test_no_number_ever_goes_back(lived: list[Evening]) -> None:
    assert lived[-1].went_back == []


def test_nothing_rings_that_waits(lived: list[Evening]) -> None:
    assert [(e.plan.on, k.title) for e in lived for k in e.file.values() if k.rings and k.status != "CONFIRMED"] == []
    shut = {t.title for e in lived for t in e.plan.tasks if t.state in (State.WAITING, State.ON_HOLD) and not t.tested_with}
    for e in lived[::5]:
        firm = {t.title for t in e.plan.tasks if t.state not in (State.WAITING, State.ON_HOLD)}
        text = icalendar.Calendar.from_ical(e.data)
        ringing = " ".join(str(v["DESCRIPTION"]) for v in text.walk("VEVENT") if v.subcomponents)
        assert [title for title in shut - firm if f"- {title} (" in ringing] == []


def test_titles_keep_to_twenty_four_signs(lived: list[Evening]) -> None:
    assert [k.title for e in lived for k in e.file.values() if len(k.title) > 24] == []


def test_every_file_is_clean_and_independent_readers_agree(lived: list[Evening]) -> None:
    for e in lived[::4]:
        assert lint(e.data) == []
        assert [_told(s) for s in read_by_ical(e.data)] == [_told(s) for s in read_by_vobject(e.data)]
        assert len(read_by_ical(e.data)) == len(e.file)


def _told(seen: Seen) -> tuple[object, ...]:
    return (seen.uid, seen.start, seen.summary, seen.sequence, seen.alarms)


def test_a_day_that_only_goes_by_rewrites_next_to_nothing(lived: list[Evening]) -> None:
    """What changes then: what is late, once a week the end of the calendar, and what the forecast itself moved. Provisional
    entries move by two days or more."""
    quiet = [(a, b) for a, b in zip(lived, lived[1:], strict=False) if sloppy_rows(a.plan.on) == sloppy_rows(b.plan.on)]
    assert len(quiet) >= 18
    rewritten = sorted(sum(k != a.file[uid] for uid, k in b.file.items() if uid in a.file and k.status != "TENTATIVE") for a, b in quiet)
    assert rewritten[len(quiet) // 2] <= 1
    assert rewritten[-2] <= 6
    moved = [abs((k.day - a.file[uid].day).days) for a, b in quiet for uid, k in b.file.items() if k.status == "TENTATIVE" and uid in a.file]
    assert 1 not in moved
