"""What a day's page asks of other plans, kept: the same page with and without it, and nothing believed that differs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.files.kept import Kept
from planner.files.tank import Tank
from planner.plan import outlines as room
from planner.plan.day_jobs import Day, day_of
from planner.plan.make import make_plan
from planner.plan.outlines import Outlines, outline_from
from planner.rulebook.shapes import HouseRule, Rulebook
from planner.show.json.plan_document import today_document
from planner.show.terminal.today import today_lines
from planner.terms.problems import Place
from planner.terms.records import Journal, Plan
from tests.engine_desk import journal_of, tank_with
from tests.rulecases import rulebook

ON = date(2026, 3, 9)
TANK = tank_with(already={"start-up": date(2026, 3, 1)})
ROWS = ("2026-03-02 09:00,done,cycle/first-dose", "2026-03-02 09:00,dosed,ammonia,2,mg/L as N", "2026-03-08 09:00,reading,ammonia,1,mg/L as N", "2026-03-08 09:00,reading,nitrite,1,mg/L as N")
TODAY = ("2026-03-09 09:00,event,leak", "2026-03-09 10:00,reading,ammonia,6,mg/L as N", "2026-03-09 11:00,done,cycle/tests#2")


class Seen:
    """A page of the day, and the plans that were made for it beside its own."""

    def __init__(self, kept: Kept | None, *today: str, on: date = ON, tank: Tank = TANK, rules: Rulebook | None = None) -> None:
        self.made: list[tuple[int, date]] = []
        rules = rules or rulebook()
        journal = journal_of(*ROWS, *today)

        def make(rows: Journal, day: date) -> Plan:
            self.made.append((len(rows.rows), day))
            return make_plan(tank, rows, rules, day)

        self.day: Day = day_of(tank, journal, rules, make_plan(tank, journal, rules, on), make, kept=kept)
        self.page = today_lines(self.day, rules, 80), today_document(self.day, rules)


@pytest.mark.parametrize("today", [(), TODAY[:1], TODAY[1:2], TODAY[:2], TODAY], ids=len)
def test_a_page_is_the_same_with_and_without_what_was_kept(tmp_path: Path, today: tuple[str, ...]) -> None:
    without, first, second = Seen(None, *today), Seen(Kept(tmp_path), *today), Seen(Kept(tmp_path), *today)
    assert without.page == first.page == second.page
    assert without.made and first.made and second.made == []


def test_the_morning_is_known_in_the_evening_and_the_day_before_on_the_next(tmp_path: Path) -> None:
    Seen(Kept(tmp_path))
    evening = Seen(Kept(tmp_path), *TODAY[1:2])
    assert evening.made == [] and evening.page == Seen(None, *TODAY[1:2]).page
    tomorrow = Seen(Kept(tmp_path), *TODAY[1:2], on=date(2026, 3, 10))
    assert tomorrow.made == [] and tomorrow.page == Seen(None, *TODAY[1:2], on=date(2026, 3, 10)).page


def test_nothing_is_believed_where_anything_differs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept = Kept(tmp_path)
    Seen(kept, *TODAY)
    assert Seen(kept, *TODAY).made == []
    assert Seen(kept, *TODAY, tank=TANK.model_copy(update={"name": "another"})).made
    assert Seen(Kept(tmp_path, ["OPENBLAS_CORETYPE=x"]), *TODAY).made
    monkeypatch.setitem(globals(), "ROWS", (*ROWS[:3], ROWS[3].replace("nitrite,1", "nitrite,2")))
    assert Seen(kept, *TODAY).made


def test_other_code_or_other_rules_believe_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept, rules = Kept(tmp_path / "kept"), tmp_path / "rules"
    rules.mkdir()
    (rules / "a.yaml").write_text("a: 1\n")
    monkeypatch.setattr(room, "PLANNER", room.Maker((), (), (rules,)))
    Seen(kept, *TODAY)
    monkeypatch.setattr(room, "PLANNER", room.Maker((), (), (rules,)))
    assert Seen(kept, *TODAY).made == []
    (rules / "a.yaml").write_text("a: 2\n")
    monkeypatch.setattr(room, "PLANNER", room.Maker((), (), (rules,)))
    assert Seen(kept, *TODAY).made


def test_the_seal_covers_the_whole_program_and_all_rules() -> None:
    root = Path(__file__).parents[3]
    assert {root / "planner", root / "rules"} == set(room.PLANNER._folders)


def test_beside_house_rules_nothing_is_kept(tmp_path: Path) -> None:
    house = replace(rulebook(), house=(HouseRule("number/x", Place("house.yaml", 1), "5"),))
    Seen(Kept(tmp_path), *TODAY, rules=house)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("data", [None, {}, {"listed": 3}, {"listed": [], "gates": {"gate/a": ["t", "soon"]}, "holds": []}, {"listed": [["a"]], "gates": {}, "holds": []}, {"listed": [], "gates": {}, "holds": ["x"]}])
def test_data_of_another_shape_is_no_outline(data: object) -> None:
    assert outline_from(data) is None


def test_an_outline_that_was_kept_tells_what_the_plan_told(tmp_path: Path) -> None:
    journal = journal_of(*ROWS)
    plan = make_plan(TANK, journal, rulebook(), ON)
    fresh = Outlines(TANK, rulebook(), lambda _rows, _day: plan, Kept(tmp_path)).of(journal, ON)
    found = Outlines(TANK, rulebook(), lambda _rows, _day: pytest.fail("it was kept"), Kept(tmp_path)).of(journal, ON)
    assert found.gates == fresh.gates and found.holds == fresh.holds and fresh.gates and fresh.listed
    assert [room.TOLD(t) for t in found.listed] == [room.TOLD(t) for t in fresh.listed]
