"""The staged wish list inside the plan: days on a real calendar, gates before animals, and what the journal changes.

Weekdays and day counts are those of the Gregorian calendar (2026-03-07 is a Saturday; checked with `datetime`). Fourteen
days between stages and before an absence are common practice, no source."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.files.tank import Tank
from planner.judge.facts import gather
from planner.plan.day_jobs import Day
from planner.plan.make import make_plan
from planner.plan.stages import judge_stock, proof_for_list
from planner.plan.task_days import TaskDays
from planner.rulebook.read import shipped
from planner.show.json.output_schema import schema_of
from planner.show.terminal.agenda import next_of_each
from planner.show.terminal.today import today_lines
from planner.show.words.causes import all_words, cause_words
from planner.show.words.conditions import need_words
from planner.show.words.words import plain_text
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.verdict import Wish
from planner.terms.records import Plan, State, Task
from tests.engine_desk import book_with, journal_of, tank_with
from tests.rulecases import RULES, rulebook
from tests.unit.plan_builder import jobs_of_plan

LIST = [{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "gramma-loreto"}, {"animal": "ecsenius-stigmatura"},
        {"animal": "lysmata-amboinensis", "count": 2}, {"animal": "sarcophyton-glaucum"}]
OPENED = tuple(f"2026-03-03 10:00,reading,{what},{value},{unit},display," for what, value, unit in (
    ("ammonia", "0", "mg/L"), ("nitrite", "0", "mg/L"), ("nitrate", "10", "mg/L"), ("ph", "8.1", "pH"), ("alkalinity", "8", "dKH"),
    ("salinity", "35", "ppt"), ("temperature", "25.5", "C")))
SHRIMPS = ("2026-03-07 15:00,done,crew/stage#1", "2026-03-07 15:00,added,lysmata-amboinensis,2")
SNAILS = ("2026-03-07 15:00,done,crew/first-half#1", "2026-03-07 15:00,added,trochus-maculatus,3",
          "2026-03-14 15:00,reading,ammonia,0,mg/L", "2026-03-14 15:00,reading,nitrite,0,mg/L")
CLOWNS = ("2026-03-21 15:00,done,fish/stage#1", "2026-03-21 15:00,added,amphiprion-ocellaris,2")


@cache
def catalogue() -> Catalogue:
    return load_catalogue([shipped("rules") / "livestock"])


def stocked(**changes: Any) -> Tank:
    """The base tank, filled in November, with a list, a lid, shopping on Saturdays and eight nights away from 6 April."""
    return tank_with(**{"wish_list": LIST, "tank__lid": True, "keeper__shopping_days": ["saturday"],
                        "keeper__away": [{"from": "2026-04-06", "to": "2026-04-14"}], "already__scape": "2025-11-20", "already__big-change": "2026-03-01", **changes})


def planned(*rows: str, on: str, tank: Tank | None = None, without: bool = False) -> Plan:
    tank = tank or stocked()
    return make_plan(tank, journal_of(*rows, tank=tank), rulebook(), date.fromisoformat(on), catalogue=None if without else catalogue())


def stages(plan: Plan, phase: str) -> dict[str, tuple[str, tuple[tuple[str, int], ...]]]:
    return {t.id: (str(t.date), t.animals) for t in plan.tasks if t.key == f"{phase}/stage" and t.state not in (State.DONE, State.SKIPPED)}


def task(plan: Plan, id: str) -> Task:
    found = plan.task(id)
    assert found is not None, id
    return found


def test_stages_fall_on_saturdays_two_weeks_apart_and_never_within_two_weeks_of_an_absence() -> None:
    plan = planned(*OPENED, on="2026-03-03")
    assert stages(plan, "crew") == {"crew/stage#1": ("2026-03-07", (("lysmata-amboinensis", 2),))}
    # 21 March is 14 days after 7 March; 4 April is two days before the absence, and the first Saturday after it is 18 April.
    assert stages(plan, "fish") == {"fish/stage#1": ("2026-03-21", (("amphiprion-ocellaris", 2),)),
                                    "fish/stage#2": ("2026-04-18", (("gramma-loreto", 1), ("ecsenius-stigmatura", 1)))}


def test_title_steps_and_reasons_name_the_animals_and_say_why_then_and_why_together() -> None:
    pair = task(planned(*OPENED, on="2026-03-03"), "fish/stage#1")
    assert "2 x ocellaris clownfish" in pair.title and "2 x ocellaris clownfish" in cause_words(pair.steps[0], "metric")
    assert any(b.startswith("This day, because 14 days") for b in all_words(pair.because, "metric"))
    assert any(b.startswith("Both move in at once") for b in all_words(pair.because, "metric"))


def test_tests_follow_each_stage_after_one_two_and_seven_days_by_its_number() -> None:
    plan = planned(*OPENED, on="2026-03-03")
    for n, days in ((1, ("2026-03-21", "2026-03-22", "2026-03-23", "2026-03-28")), (2, ("2026-04-18", "2026-04-19", "2026-04-20", "2026-04-25"))):
        ids = [f"fish/stage-test-{when}#{n}" for when in ("before", "day", "two-days", "week")]
        assert tuple(str(task(plan, id).date) for id in ids) == days
        assert all({"ammonia", "nitrite"} <= set(task(plan, id).reads) for id in ids)


@pytest.mark.parametrize("rows", [(), OPENED[1:], ("2026-03-03 10:00,reading,ammonia,0.5,mg/L,display,", *OPENED[1:])],
                         ids=["no test", "no ammonia test", "ammonia in the water"])
def test_no_animal_task_is_firm_before_its_gate_opens(rows: tuple[str, ...]) -> None:
    plan = planned(*rows, on="2026-03-03")
    animals = [t for t in plan.tasks if t.animals]
    assert animals and all(t.tentative and t.state in (State.WAITING, State.ON_HOLD) for t in animals)


def test_corals_stay_tentative_while_their_own_gate_is_shut_and_stony_ones_while_their_readings_are_missing() -> None:
    tank = stocked(wish_list=[*LIST, {"animal": "caulastraea-furcata"}])
    corals = [t for t in planned(*OPENED, on="2026-03-03", tank=tank).tasks if t.key == "corals/stage"]
    assert corals and all(t.tentative for t in corals)
    steady = [f"2026-{day} 12:00,reading,{what},{value},{unit},display," for day in ("03-10", "03-17", "03-24", "03-31")
              for what, value, unit in (("ammonia", "0", "mg/L"), ("nitrite", "0", "mg/L"), ("nitrate", "10", "mg/L"), ("alkalinity", "8", "dKH"), ("salinity", "35", "ppt"), ("temperature", "25.5", "C"))]
    plan = planned(*OPENED, *steady, on="2026-04-01", tank=tank)
    assert plan.phase("corals").opened is not None  # type: ignore[union-attr]
    by_animal = {name: t for t in plan.tasks if t.key == "corals/stage" for name, _ in t.animals}
    assert not by_animal["sarcophyton-glaucum"].tentative
    stony = by_animal["caulastraea-furcata"]
    assert stony.tentative and any("calcium" in b for b in all_words(stony.because, "metric"))
    assert stony.date is not None and (stony.date - date(2026, 3, 3)).days >= 56


def test_animals_that_came_are_not_staged_again_and_the_next_stage_counts_from_them() -> None:
    plan = planned(*OPENED, *SHRIMPS, *CLOWNS, on="2026-03-22")
    assert stages(plan, "crew") == {}
    assert stages(plan, "fish") == {"fish/stage#2": ("2026-04-25", (("gramma-loreto", 1), ("ecsenius-stigmatura", 1)))}  # a week after the return
    by_hand = planned(*OPENED, *SHRIMPS, "2026-03-21 15:00,added,ocellaris clownfish,2", on="2026-03-22")
    assert stages(by_hand, "fish") == {"fish/stage#1": ("2026-04-25", (("gramma-loreto", 1), ("ecsenius-stigmatura", 1)))}
    general = planned(*OPENED, *SHRIMPS, "2026-03-21 15:00,done,fish/stage#1", "2026-03-21 15:00,added,fish,2", on="2026-03-22")
    assert stages(general, "fish") == stages(plan, "fish")


def test_half_a_pair_leaves_the_other_half_to_come() -> None:
    plan = planned(*OPENED, *SHRIMPS, "2026-03-21 15:00,added,amphiprion-ocellaris,1", on="2026-03-22")
    assert ("amphiprion-ocellaris", 1) in {a for _, animals in stages(plan, "fish").values() for a in animals}


def test_a_lost_animal_is_told_and_not_bought_again() -> None:
    plan = planned(*OPENED, *SHRIMPS, *CLOWNS, "2026-03-23 09:00,lost,amphiprion-ocellaris,1", on="2026-03-23")
    assert all(name != "amphiprion-ocellaris" for _, animals in stages(plan, "fish").values() for name, _ in animals)
    assert any(n.startswith("Lost: 1 x ocellaris clownfish") for n in all_words(plan.notices, "metric"))


def test_an_animal_in_the_tank_that_cannot_stay_is_told_so_and_counts_in_what_all_give() -> None:
    plan = planned(*OPENED, *SHRIMPS, "2026-03-21 15:00,added,yellow tang,1", on="2026-03-22", tank=stocked(keeper__away=[], wish_list=LIST[:4]))
    assert any(n.startswith("In the tank, but it cannot stay: yellow tang.") and "Never release it" in n for n in all_words(plan.notices, "metric"))
    assert not any(n.startswith("Left out of the stages: yellow tang") for n in all_words(plan.notices, "metric"))


@pytest.mark.parametrize(("on", "told"), [("2026-03-26", True), ("2026-04-08", True), ("2026-04-09", False), ("2026-05-30", False)])
def test_a_spike_is_told_until_the_quiet_time_after_it_is_over(on: str, told: bool) -> None:
    """Clear on 26 March and quiet for two weeks, to 9 April."""
    spike = "2026-03-23 10:00,reading,ammonia,0.5,mg/L,display,"
    clear = ("2026-03-26 10:00,reading,ammonia,0,mg/L,display,", "2026-03-26 10:00,reading,nitrite,0,mg/L,display,")
    after = planned(*OPENED, *SHRIMPS, *CLOWNS, spike, *clear, on=on, tank=stocked(keeper__away=[]))
    assert any("was above your kit's zero" in said for said in all_words(after.notices, "metric")) is told
    assert any("was above your kit's zero" in said for said in all_words(planned(*OPENED, *SHRIMPS, *CLOWNS, spike, on=on, tank=stocked(keeper__away=[])).notices, "metric"))


def test_a_spike_after_animals_puts_the_next_stage_two_weeks_behind_the_clear_reading() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4])
    spike = "2026-03-23 10:00,reading,ammonia,0.5,mg/L,display,"
    calm = planned(*OPENED, *SHRIMPS, *CLOWNS, on="2026-03-30", tank=tank)
    assert stages(calm, "fish")["fish/stage#2"][0] == "2026-04-04"
    clear = ("2026-03-28 10:00,reading,ammonia,0,mg/L,display,", "2026-03-28 10:00,reading,nitrite,0,mg/L,display,", "2026-03-29 10:00,reading,ammonia,0,mg/L,display,")
    after = planned(*OPENED, *SHRIMPS, *CLOWNS, spike, *clear, on="2026-03-30", tank=tank)
    assert stages(after, "fish")["fish/stage#2"][0] == "2026-04-11"  # 28 March and 14 days
    held = planned(*OPENED, *SHRIMPS, *CLOWNS, spike, on="2026-03-23", tank=tank)
    assert task(held, "fish/stage#2").state == State.ON_HOLD


def test_a_stage_put_off_or_left_out_shifts_the_rest() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4])
    assert {id: day for id, (day, _) in stages(planned(*OPENED, *SHRIMPS, on="2026-03-10", tank=tank), "fish").items()} == {
        "fish/stage#1": "2026-03-21", "fish/stage#2": "2026-04-04"}
    put_off = planned(*OPENED, *SHRIMPS, "2026-03-10 12:00,postponed,fish/stage#1,2026-04-01", on="2026-03-10", tank=tank)
    assert {id: day for id, (day, _) in stages(put_off, "fish").items()} == {"fish/stage#1": "2026-04-04", "fish/stage#2": "2026-04-18"}
    left_out = planned(*OPENED, *SHRIMPS, "2026-03-21 12:00,skipped,fish/stage#1", on="2026-03-21", tank=tank)
    assert stages(left_out, "fish")["fish/stage#2"] == ("2026-04-04", (("amphiprion-ocellaris", 2),))
    assert left_out.task("fish/stage-test-day#1") is None


def test_the_animals_of_a_skipped_stage_stay_away_and_the_later_ones_move_up() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4])
    before = stages(planned(*OPENED, *SHRIMPS, on="2026-03-21", tank=tank), "fish")
    value = "; ".join(f"{name} {count}" for name, count in before["fish/stage#1"][1])
    after = stages(planned(*OPENED, *SHRIMPS, f"2026-03-21 12:00,skipped,fish/stage#1,{value}", on="2026-03-21", tank=tank), "fish")
    still = [s for id, s in after.items() if id != "fish/stage#1"]
    assert still[0][0] == "2026-04-04"
    assert {a for _, animals in still for a in animals} == set(before["fish/stage#2"][1])


CORALS_TOO = [*LIST[:3], {"animal": "caulastraea-furcata"}, {"animal": "sarcophyton-glaucum"}]


def spaced(plan: Plan) -> list[date]:
    """The days on which animals come in, each at least fourteen after the one before."""
    days = sorted({t.date for t in plan.tasks if t.animals and t.date is not None})
    assert all((b - a).days >= 14 for a, b in pairwise(days)), days
    return days


def test_a_late_stage_of_fish_moves_corals_too_so_that_fourteen_days_lie_between_any_two_stages() -> None:
    tank = stocked(keeper__away=[], wish_list=CORALS_TOO)
    for on in ("2026-03-10", "2026-03-24", "2026-04-10", "2026-05-05", "2026-06-20"):
        plan = planned(*OPENED, on=on, tank=tank)
        assert spaced(plan)[0] >= date.fromisoformat(on)
    late = task(planned(*OPENED, *SNAILS, on="2026-04-10", tank=tank), "fish/stage#1")
    assert (late.due, late.date) == (date(2026, 3, 21), date(2026, 4, 11))
    assert any("because it is the first one left" in b for b in all_words(late.because, "metric"))


SOFT = {"animal": "sarcophyton-glaucum"}


@pytest.mark.parametrize(("listed", "nitrate", "opens"), [
    ([SOFT], "20", True), ([SOFT], "20.5", False), ([SOFT, {"animal": "caulastraea-furcata"}], "10", True), ([SOFT, {"animal": "caulastraea-furcata"}], "10.5", False),
    ([SOFT, {"animal": "no such animal"}], "10.5", False), ([], "20", True)])
def test_the_big_change_asks_for_less_nitrate_where_stony_corals_are_or_may_be_on_the_list(listed: list[dict[str, str]], nitrate: str, opens: bool) -> None:
    tank = stocked(keeper__away=[], wish_list=listed, **{"already__big-change": None, "already__cycle": "2026-03-01", "tank__length": "150 cm", "equipment__light": "300 PAR"})
    plan = planned(f"2026-03-03 10:00,reading,nitrate,{nitrate},mg/L,display,", "2026-03-03 10:00,reading,nitrite,0,mg/L,display,", on="2026-03-03", tank=tank)
    phase = plan.phase("big-change")
    assert phase is not None and (phase.opened is not None) == opens


def test_a_stage_put_off_leaves_its_place_to_corals_and_says_what_was_put_off() -> None:
    tank = stocked(keeper__away=[], wish_list=CORALS_TOO)
    plan = planned(*OPENED, "2026-03-10 12:00,postponed,fish/stage#1,2026-05-16", on="2026-03-10", tank=tank)
    fish = task(plan, "fish/stage#1")
    assert fish.date == date(2026, 5, 16) and any("you put the next stage off to 2026-05-16" in b for b in all_words(fish.because, "metric"))
    assert spaced(plan)[0] < date(2026, 5, 1)  # the soft coral does not wait for the fish


def test_an_illness_keeps_fish_out_for_two_weeks_and_a_display_without_fish_for_eleven() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4])
    ill = "2026-03-24 10:00,event,ill"
    assert stages(planned(*OPENED, *SHRIMPS, *CLOWNS, ill, on="2026-03-25", tank=tank), "fish")["fish/stage#2"][0] == "2026-04-11"  # 24 March and 14 days
    out = ("2026-03-25 10:00,moved,amphiprion-ocellaris,2,,quarantine", "2026-03-25 10:00,event,fallow")
    empty = planned(*OPENED, *SHRIMPS, *CLOWNS, ill, *out, on="2026-03-26", tank=tank)
    coming = sorted(stages(empty, "fish").values())
    assert coming[0][0] == "2026-06-13"  # 25 March and 76 days is 9 June, a Tuesday
    assert any(("amphiprion-ocellaris", 2) in fish for _, fish in coming)  # they come back in, alone, for the filter has starved too
    assert any("so that the parasite starves" in b for b in all_words(task(empty, "fish/stage#2").because, "metric"))


def test_an_illness_in_the_quarantine_tank_starts_its_clock_again() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4], equipment__quarantine_tank=True)
    waiting = (*OPENED, *SHRIMPS, "2026-03-07 15:00,added,amphiprion-ocellaris,2,,quarantine")
    well = planned(*waiting, on="2026-03-20", tank=tank)
    ill = planned(*waiting, "2026-03-20 10:00,event,ill,,,quarantine", on="2026-03-20", tank=tank)
    days = [task(p, "fish/stage#1").date for p in (well, ill)]
    assert days == [date(2026, 4, 18), date(2026, 5, 2)]  # Saturday 7 March, and the first Saturday after the illness, and 42 days


def test_a_stage_tells_what_all_animals_give_with_those_that_are_in() -> None:
    plan = planned(*OPENED, *SHRIMPS, *CLOWNS, on="2026-03-22", tank=stocked(keeper__away=[], wish_list=LIST[:4]))
    given = [next(b for b in all_words(t.because, "metric") if "nitrogen a day" in b and "All animals" in b) for t in plan.tasks if t.animals]
    # 2 shrimp at 0.83, 2 clownfish at 6.9, a gramma at 3.6 and a blenny at 2.3 mg a day
    assert given and given[-1].startswith("All animals in by then give off about 21 mg of nitrogen a day.") and "within the limit of 0.035 mg/L." in given[-1]


def test_with_animals_in_the_list_speaks_of_what_they_give_and_no_more_of_a_proof() -> None:
    def told(*rows: str) -> str:
        tank = stocked(keeper__away=[], wish_list=LIST[:4])
        judged = judge_stock(gather(tank, journal_of(*rows, tank=tank), date(2026, 3, 22)), rulebook(), catalogue())
        return cause_words(judged.verdict.sums.nitrogen_told, "metric")

    assert "The proof before the first animal" in told(*OPENED)
    assert told(*OPENED, *SHRIMPS, *CLOWNS).endswith(" Those already in give off 16 mg of it.")  # 2 x 0.83 and 2 x 6.93, about


def test_a_list_asks_for_the_proof_that_its_first_fish_and_its_sum_need() -> None:
    """Four times the first fish or twice the whole list a day and litre, from 1 to 2 mg/L as N, up to the next tenth. A pair
    of clownfish gives 13.8 mg a day: in 20 litres four times that is 2.8, in 40 litres 1.38, in 208 litres 0.27."""
    keep = (Wish("amphiprion-ocellaris", 2),)
    assert [proof_for_list(keep, litres, rulebook(), catalogue()) for litres in (20.0, 40.0, 208.0)] == [2.0, 1.4, 1.0]
    heavy = (Wish("gramma-loreto"), Wish("zebrasoma-flavescens"), Wish("paracanthurus-hepatus"))
    total = sum(catalogue().get(w.animal_id).nitrogen_mg_per_day for w in heavy)  # type: ignore[union-attr]
    assert proof_for_list(heavy, 2 * total / 1.55, rulebook(), catalogue()) == 1.6
    assert proof_for_list((), 100.0, rulebook(), catalogue()) == 2.0


@pytest.mark.parametrize(("keep", "first_mg"), [
    ((Wish("pictichromis-paccagnellae"), Wish("amphiprion-ocellaris", 2)), "amphiprion-ocellaris"),  # the fierce one comes last
    ((Wish("gobiodon-okinawae"), Wish("amphiprion-ocellaris", 2)), "amphiprion-ocellaris"),  # of two that are gentle the larger wish
    ((Wish("trochus-maculatus"), Wish("chrysiptera-parasema", 4)), "chrysiptera-parasema")])  # snails are gentle, and no fish
def test_the_first_fish_is_the_largest_wish_among_the_gentlest_fish(keep: tuple[Wish, ...], first_mg: str) -> None:
    wish = next(w for w in keep if w.animal_id == first_mg)
    a_day = catalogue().get(first_mg).nitrogen_mg_per_day * wish.count  # type: ignore[union-attr]
    # In so much water four times its nitrogen is 1.45 mg/L a day, while twice that of the whole list stays below 1.
    assert proof_for_list(keep, 4 * a_day / 1.45, rulebook(), catalogue()) == 1.5


@pytest.mark.parametrize(("on", "state", "soon"), [("2026-03-06", State.PLANNED, True), ("2026-03-07", State.ON_HOLD, False)])
def test_the_day_before_an_arrival_nothing_is_on_hold_for_the_test_of_its_day(on: str, state: State, soon: bool) -> None:
    """A hold on the eve was read as called off by someone who had paid at the shop. On the day itself the test comes first."""
    plan = planned(*OPENED, on=on)
    shrimps = next(t for t in plan.tasks if t.animals and t.date == date(2026, 3, 7))
    page = " ".join(plain_text(today_lines(Day(plan, jobs_of_plan(plan, rulebook())), rulebook(), 100)).split())
    assert shrimps.state == state and ("if that test is clear" in page) == soon and ("On hold:" in page) != soon


def test_task_gate_forecast_and_words_ask_for_one_and_the_same_proof() -> None:
    """With a house number of 20 times the first fish the list asks for 1.4 mg/L as N: 20 x 13.8 mg a day in 208 litres is 1.33."""
    book = book_with(challenge_first_times=(20.0, ""))
    tank = stocked(wish_list=LIST[:1], **{"already__big-change": None, "already__start-up": "2026-02-20"})

    def made(*rows: str, on: str) -> Plan:
        return make_plan(tank, journal_of(*rows, tank=tank), book, date.fromisoformat(on), catalogue=catalogue())

    plan = made(on="2026-03-03")
    asked = task(plan, "cycle/challenge-dose#1")
    assert any("two proof doses of 1.4 mg/L as N on two days, each gone within 24 hours" in need_words(n) for n in plan.phase("cycle").needs)  # type: ignore[union-attr]
    assert any("It raises ammonia by 1.4 mg/L as N" in b for b in all_words(asked.because, "metric"))
    grams = dict(asked.amounts)["challenge_dose"].value
    assert grams / 1000 * 14.0067 / 53.491 * 1e6 / gather(tank, journal_of(tank=tank), date(2026, 3, 3)).net_volume_l == pytest.approx(1.4, rel=1e-3)

    def proof(dose: str) -> tuple[str, ...]:
        rows = []
        for day in (10, 11):
            rows += [f"2026-03-{day}T09:00+00:00,dosed,ammonia,{dose},mg/L"]
            rows += [f"2026-03-{day + 1}T08:30+00:00,reading,{what},0,mg/L,display," for what in ("ammonia", "nitrite")]
        return tuple(rows)

    assert made(*proof("1.4"), on="2026-03-12").phase("cycle").opened == date(2026, 3, 12)  # type: ignore[union-attr]
    short = made(*proof("1"), on="2026-03-12")
    assert short.phase("cycle").opened is None  # type: ignore[union-attr]
    # Once an animal is in, a list written later asks for nothing more: the least proof stays a proof.
    assert made(*proof("1"), "2026-03-13 10:00,added,trochus-maculatus,2", on="2026-03-13").phase("cycle").opened is not None  # type: ignore[union-attr]


def test_a_test_before_a_stage_that_slid_is_asked_for_again_on_the_new_day() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4])
    tested = (*OPENED, *SHRIMPS, "2026-03-21 09:00,done,fish/stage-test-before#1")
    assert task(planned(*tested, on="2026-03-21", tank=tank), "fish/stage-test-before#1").state == State.DONE
    again = task(planned(*tested, on="2026-03-22", tank=tank), "fish/stage-test-before#1")
    assert (again.state != State.DONE, again.date) == (True, date(2026, 3, 28))


def test_a_fish_moved_over_from_quarantine_without_its_name_does_not_put_its_own_stage_off() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:4], equipment__quarantine_tank=True)
    waiting = (*OPENED, *SHRIMPS, "2026-03-07 15:00,added,fish,2,,quarantine")
    moved = planned(*waiting, "2026-04-18 15:00,moved,fish,2,,display", on="2026-04-18", tank=tank)
    assert stages(moved, "fish")["fish/stage#1"] == ("2026-04-18", (("amphiprion-ocellaris", 2),))


def test_snails_that_waited_for_film_cannot_have_come_before_it_was_seen() -> None:
    # Their Saturday was the 7th; film was seen on Wednesday the 11th, and the next Saturday is the 14th.
    tank = stocked(keeper__away=[], wish_list=[{"animal": "trochus-maculatus", "count": 4}])
    rows = (*OPENED, "2026-03-07 20:00,dosed,ammonia,1,mg/L", "2026-03-11 09:00,event,algae_seen")
    plan = planned(*rows, on="2026-03-12", tank=tank)
    assert [t.id for t in plan.tasks if any(y.way == "asked" for y in t.yielded)] == []
    assert task(plan, "crew/stage#1").date == date(2026, 3, 14)


def test_a_tick_of_the_first_stage_opens_the_way_that_the_gate_to_fish_asks_for() -> None:
    clear = [f"2026-{day} 18:00,reading,{what},0,mg/L,display," for day in ("03-22", "03-28", "04-05") for what in ("ammonia", "nitrite")]
    plan = planned(*OPENED, *SHRIMPS, *CLOWNS, *clear, on="2026-04-05")
    assert plan.phase("fish").opened == date(2026, 4, 5)  # type: ignore[union-attr]


def test_with_a_quarantine_tank_the_stage_says_when_its_fish_go_in_there() -> None:
    tank = stocked(equipment__quarantine_tank="40 L", keeper__away=[])
    first = task(planned(*OPENED, on="2026-03-03", tank=tank), "fish/stage#1")
    entry = next(date.fromisoformat(word) for step in all_words(first.steps, "metric") if "enter the quarantine tank" in step for word in step.split() if word.startswith("2026-"))
    assert entry >= date(2026, 3, 3) and first.date is not None
    assert (first.date - entry).days >= catalogue().figures.value("quarantine_days")


def entry_tasks(plan: Plan) -> dict[str, tuple[str, tuple[tuple[str, int], ...]]]:
    return {t.id: (str(t.date), t.animals) for t in plan.tasks if t.key == "quarantine/batch" and t.state not in (State.DONE, State.SKIPPED)}


def test_every_batch_of_fish_enters_quarantine_on_a_shopping_day_six_weeks_before_its_stage_with_a_test_before() -> None:
    plan = planned(*OPENED, on="2026-03-03", tank=stocked(equipment__quarantine_tank="40 L", keeper__away=[]))
    batches = entry_tasks(plan)
    assert len(batches) == 2 and all(date.fromisoformat(day).strftime("%A") == "Saturday" for day, _ in batches.values())
    for id, (day, animals) in batches.items():
        stage = task(plan, id.replace("quarantine/batch", "fish/stage"))
        assert stage.date is not None and (stage.date - date.fromisoformat(day)).days >= 42 and stage.animals == animals
        assert str(task(plan, id.replace("batch", "batch-test")).date) == day
    keys = {t.key for t in plan.tasks}
    assert not keys & {"quarantine/fish-in", "quarantine/move"}
    assert all(t.tentative for t in plan.tasks if t.key == "quarantine/batch")  # the small filter is not proven


@pytest.mark.parametrize(("listed", "tests"), [(0, {"quarantine/test-move", "fish/test-first"}), (4, {"fish/stage-test-before"})])
def test_a_fish_that_leaves_quarantine_without_a_list_has_a_test_of_its_own_and_one_of_the_list_that_of_its_stage(listed: int, tests: set[str]) -> None:
    waiting = ("2026-03-07 15:00,added,amphiprion-ocellaris,2,,quarantine", "2026-03-07 15:00,done,quarantine/fish-in#1,,,quarantine")
    plan = planned(*OPENED, *SHRIMPS, *waiting, on="2026-04-18", tank=stocked(keeper__away=[], equipment__quarantine_tank=True, wish_list=LIST[:listed]))
    assert {t.key for t in plan.tasks if t.closed_on is None and t.date == date(2026, 4, 18) and t.key in {"quarantine/test-move", "fish/test-first", "fish/stage-test-before"}} == tests


def test_a_test_of_a_day_on_which_no_batch_entered_is_made_again_on_the_next_day_for_it() -> None:
    tank = stocked(equipment__quarantine_tank="40 L", keeper__away=[])
    proven = [f"2026-03-05 {hour},{row},quarantine" for hour, row in (("08:00", "done,quarantine/set-up,,"), ("09:00", "done,quarantine/prove-1#1,,"))]
    tested = "2026-03-07 10:00,done,quarantine/batch-test#1"
    plan = planned(*OPENED, *proven, tested, on="2026-03-12", tank=tank)
    again, entry = task(plan, "quarantine/batch-test#1"), task(plan, "quarantine/batch#1")
    assert again.closed_on is None and again.date == entry.date and entry.date is not None and entry.date > date(2026, 3, 12)
    entered = planned(*OPENED, tested, "2026-03-07 15:00,done,quarantine/batch#1", "2026-03-07 15:00,added,amphiprion-ocellaris,2,,quarantine", on="2026-03-12", tank=tank)
    assert [t.closed_on for t in entered.tasks if t.id == "quarantine/batch-test#1"] == [date(2026, 3, 7)]


def test_a_batch_that_is_in_quarantine_has_no_entry_left_and_the_next_one_enters_after_it_has_gone() -> None:
    tank = stocked(equipment__quarantine_tank="40 L", keeper__away=[])
    rows = ("2026-03-07 15:00,done,quarantine/batch#1", "2026-03-07 15:00,added,amphiprion-ocellaris,2,,quarantine")
    for journal in (rows, rows[1:]):
        plan = planned(*OPENED, *journal, on="2026-03-08", tank=tank)
        assert "quarantine/batch#1" not in entry_tasks(plan)
        first, second = task(plan, "fish/stage#1"), entry_tasks(plan)["quarantine/batch#2"]
        assert first.date == date(2026, 4, 18)  # a Saturday, 42 days after 7 March
        assert date.fromisoformat(second[0]) > first.date


def test_fish_are_chosen_a_week_before_they_enter_quarantine_or_the_tank_and_moved_with_words_of_their_own() -> None:
    apart = planned(*OPENED, on="2026-03-03", tank=stocked(equipment__quarantine_tank="40 L", keeper__away=[]))
    entry, choose = task(apart, "quarantine/batch#2").date, task(apart, "quarantine/batch-reserve#2").date
    assert entry is not None and choose is not None and (entry - choose).days == 7
    moving = " ".join(all_words(task(apart, "fish/stage#1").steps, "metric"))
    assert "Move no net" in moving and "bag" not in moving
    assert not {"fish/choose", "quarantine/reserve", "fish/stage-choose"} & {t.key for t in apart.tasks}
    bare = planned(*OPENED, on="2026-03-03", tank=stocked(keeper__away=[]))
    stage, choose = task(bare, "fish/stage#1").date, task(bare, "fish/stage-choose#1").date
    assert stage is not None and choose is not None and (stage - choose).days == 7
    assert "Float the closed bag" in " ".join(all_words(task(bare, "fish/stage#1").steps, "metric"))


def test_a_fish_that_is_in_quarantine_already_moves_before_those_that_the_plan_meant_to_come_first() -> None:
    tank = stocked(equipment__quarantine_tank="40 L", keeper__away=[])
    assert stages(planned(*OPENED, on="2026-03-08", tank=tank), "fish")["fish/stage#1"][1] == (("amphiprion-ocellaris", 2),)
    plan = planned(*OPENED, "2026-03-07 15:00,added,gramma-loreto,1,,quarantine", on="2026-03-08", tank=tank)
    assert stages(plan, "fish")["fish/stage#1"] == ("2026-04-18", (("gramma-loreto", 1),))  # 42 days after 7 March
    assert entry_tasks(plan) and all(entry[0] > "2026-04-18" for entry in entry_tasks(plan).values())


def test_an_absence_while_fish_are_in_quarantine_is_told() -> None:
    tank = stocked(equipment__quarantine_tank="40 L", keeper__away=[{"from": "2026-03-28", "to": "2026-04-02"}], wish_list=[{"animal": "gramma-loreto"}])
    inside = ("2026-03-07 15:00,done,quarantine/batch#1", "2026-03-07 15:00,added,gramma-loreto,1,,quarantine")
    assert any("in the quarantine tank while you are away" in n for n in all_words(planned(*OPENED, *inside, on="2026-03-08", tank=tank).notices, "metric"))
    home = stocked(equipment__quarantine_tank="40 L", keeper__away=[], wish_list=[{"animal": "gramma-loreto"}])
    assert not any("while you are away" in n for n in all_words(planned(*OPENED, *inside, on="2026-03-08", tank=home).notices, "metric"))


def test_a_size_of_the_quarantine_tank_means_yes() -> None:
    for size in (True, "40 L"):
        assert planned(*OPENED, on="2026-03-03", tank=stocked(equipment__quarantine_tank=size)).phase("quarantine") is not None
    assert planned(*OPENED, on="2026-03-03", tank=stocked(equipment__quarantine_tank=False)).phase("quarantine") is None


def test_grazers_of_the_list_wait_for_film_and_a_shrimp_does_not() -> None:
    tank = stocked(wish_list=[{"animal": "trochus-maculatus", "count": 4}, {"animal": "lysmata-amboinensis", "count": 2}])
    bare = [t for t in planned(*OPENED, on="2026-03-03", tank=tank).tasks if t.key == "crew/stage"]
    assert [t.tentative for t in bare if "trochus-maculatus" in dict(t.animals)] == [True]
    assert any("film or algae" in b for t in bare for b in all_words(t.because, "metric"))
    seen = planned(*OPENED, "2026-03-03 18:00,event,algae_seen", on="2026-03-03", tank=tank)
    assert not any(t.tentative for t in seen.tasks if t.key == "crew/stage")
    shrimp = planned(*OPENED, on="2026-03-03", tank=stocked(wish_list=LIST[3:4]))
    assert not any(t.tentative for t in shrimp.tasks if t.key == "crew/stage")


def test_without_a_list_or_with_one_that_names_nothing_the_general_stages_stand() -> None:
    bare = stocked(wish_list=[])
    assert planned(*OPENED, on="2026-03-03", tank=bare) == planned(*OPENED, on="2026-03-03", tank=bare, without=True)
    for tank in (bare, stocked(wish_list=[{"animal": "zzyzx"}])):
        keys = {t.key for t in planned(*OPENED, on="2026-03-03", tank=tank).tasks}
        assert "fish/stage-1" in keys and "fish/stage" not in keys
    assert any("zzyzx" in n for n in all_words(planned(*OPENED, on="2026-03-03", tank=stocked(wish_list=[{"animal": "zzyzx"}])).notices, "metric"))
    listed = {t.key for t in planned(*OPENED, on="2026-03-03").tasks}
    assert not listed & {"fish/stage-1", "fish/stage-2", "fish/test-first", "corals/soft"}


def test_a_list_of_which_no_fish_can_be_kept_plans_no_fish_and_says_so() -> None:
    refused = stocked(wish_list=[{"animal": "pterois-volitans"}, {"animal": "trochus-maculatus", "count": 3}])  # a lionfish in 200 L
    plan = planned(*OPENED, on="2026-03-03", tank=refused)
    assert not {t.key for t in plan.tasks} & {"fish/choose", "fish/stage-1", "fish/stage", "corals/soft"}
    assert any("has no fish for this tank" in n for n in all_words(plan.notices, "metric"))
    fish = plan.phase("fish")
    assert fish is not None and fish.window.likely is None and "no fish" in cause_words(fish.reason, "metric")


def test_two_plans_of_one_journal_are_equal_and_the_order_of_rows_is_no_matter() -> None:
    rows = (*OPENED, *SHRIMPS, *CLOWNS)
    one, two = planned(*rows, on="2026-03-22"), planned(*rows, on="2026-03-22")
    assert one == two and repr(one) == repr(two)
    other = planned(*reversed(rows), on="2026-03-22")
    assert [replace(t, because=()) for t in other.tasks] == [replace(t, because=()) for t in one.tasks]


TANK = """\
name: stocked tank
start: 2026-03-02
timezone: Europe/London
tank: {length: 100 cm, width: 50 cm, height: 50 cm, glass: 10 mm, waterline: 3 cm, lid: yes}
rock: {kind: dry, mass: 15 kg}
sand: {kind: dry, mass: 15 kg}
equipment: {quarantine_tank: yes}
test_kits: {ammonia: {basis: N, step: 0.25}, nitrite: {basis: N, step: 0.25}, nitrate: {basis: ion, step: 5}}
already: {scape: 2025-11-20, big-change: 2026-03-01}
wish_list: [{animal: gramma-loreto}, {animal: lysmata-amboinensis, count: 2}, {animal: trochus-maculatus, count: 3}]
"""


def ticked(folder: Path, id: str, on: str, *rows: str) -> list[str]:
    """The facts that `newtank done` writes beside the tick."""
    (folder / "tank.yaml").write_text(TANK, "utf-8")
    (folder / "journal.csv").write_text("when,kind,what,value,unit,where,note\n" + "".join(row + "," * (6 - row.count(",")) + "\n" for row in (*OPENED, *rows)), "utf-8")
    result = CliRunner().invoke(newtank, ["done", str(folder), id, "--on", on, "--yes"])
    assert result.exit_code == 0, result.output
    cells = [line.split(",") for line in (folder / "journal.csv").read_text("utf-8").splitlines()[1 + len(OPENED) + len(rows):]]
    return [" ".join((kind, what, value, where)) for _, kind, what, value, _, where, _ in cells]


def test_ticking_a_stage_writes_a_row_for_each_animal_with_its_count(tmp_path: Path) -> None:
    assert ticked(tmp_path, "crew/stage#1", "2026-03-04", "2026-03-03 18:00,event,algae_seen") == [
        "done crew/stage#1  display", "added lysmata-amboinensis 2 display", "added trochus-maculatus 3 display"]


def test_ticking_the_stage_of_a_fish_that_waits_in_quarantine_moves_it(tmp_path: Path) -> None:
    rows = ("2026-03-04 12:00,added,lysmata-amboinensis,2", "2026-03-04 12:00,added,trochus-maculatus,3", "2026-03-05 12:00,added,royal gramma,1,,quarantine")
    assert ticked(tmp_path, "fish/stage", "2026-04-20", *rows) == ["done fish/stage#1  display", "moved royal gramma 1 display"]


def test_a_stage_is_skipped_by_command_with_the_animals_that_stay_away(tmp_path: Path) -> None:
    ticked(tmp_path, "crew/stage#1", "2026-03-04")
    run = CliRunner()
    assert run.invoke(newtank, ["skip", str(tmp_path), "fish/stage#1", "--on", "2026-03-04"]).exit_code == 0
    row = next(line for line in (tmp_path / "journal.csv").read_text("utf-8").splitlines() if ",skipped," in line)
    assert re.search(r",skipped,fish/stage#1,[a-z-]+ \d(; [a-z-]+ \d)*,", row), row


def test_the_machine_form_keeps_its_schema_and_holds_the_free_ammonia_of_each_stage(tmp_path: Path) -> None:
    ticked(tmp_path, "crew/stage#1", "2026-03-04")
    result = CliRunner().invoke(newtank, ["stock", str(tmp_path), "--on", "2026-03-05", "--json"])
    found = json.loads(result.output)
    jsonschema.validate(found, schema_of("stock"))
    assert found["stages"] and all(0 < s["free_ammonia_mg_l"]["p10"] <= s["free_ammonia_mg_l"]["p90"] <= 0.05 for s in found["stages"])


def test_the_page_of_the_phase_shows_every_stage_with_its_own_animals() -> None:
    plan = planned(*OPENED, on="2026-03-03")
    shown = [t.id for t, _ in next_of_each(t for t in plan.tasks if t.phase == "fish" and t.state not in (State.DONE, State.SKIPPED)) if t.animals]
    assert shown == ["fish/stage#1", "fish/stage#2"]


def test_a_stage_that_missed_its_shopping_day_is_asked_for_on_the_next_and_not_between() -> None:
    tank = stocked(wish_list=None, keeper__away=None)
    tested = [f"2026-03-20 18:00,reading,{what},0,mg/L,display," for what in ("ammonia", "nitrite")]
    rows = (*OPENED, "2026-03-07 15:00,done,fish/stage-1", "2026-03-07 15:00,added,amphiprion-ocellaris,1", *tested, "2026-03-20 18:00,done,care/weekly-tests#1")
    sunday = planned(*rows, on="2026-03-22", tank=tank, without=True).task("fish/stage-2")
    assert sunday is not None and (sunday.due, sunday.date, sunday.state) == (date(2026, 3, 21), date(2026, 3, 28), State.PLANNED)


# --- what stands once its way is clear


def first_stage(plan: Plan) -> tuple[str, date | None, tuple[tuple[str, int], ...]]:
    open_stages = [t for t in plan.tasks if t.key.endswith("/stage") and t.state not in (State.DONE, State.SKIPPED)]
    found = min(open_stages, key=lambda t: (t.date or date.max, t.id))
    return found.id, found.date, found.animals


def test_the_next_stage_keeps_its_day_and_its_animals_whatever_is_read_or_seen_later() -> None:
    tank = stocked(keeper__away=[], wish_list=[{"animal": "trochus-maculatus", "count": 4}, *LIST[:2]])
    stands = first_stage(planned(*OPENED, on="2026-03-04", tank=tank))
    assert stands == ("crew/stage#1", date(2026, 3, 14), (("trochus-maculatus", 4),))
    later = ("2026-03-05 18:00,event,algae_seen", "2026-03-05 18:00,reading,nitrate,2,mg/L", "2026-03-05 19:00,done,lights/first-light")
    assert [first_stage(planned(*OPENED, *later, on=on, tank=tank)) for on in ("2026-03-06", "2026-03-07", "2026-03-13")] == [stands] * 3


@pytest.mark.parametrize("anew", ["2026-03-05 18:00,postponed,crew/stage#1,2026-03-28", "2026-03-05 18:00,lost,trochus-maculatus,1"], ids=["put off", "lost"])
def test_what_was_put_off_or_lost_works_the_next_stage_out_anew(anew: str) -> None:
    tank = stocked(keeper__away=[], wish_list=[{"animal": "trochus-maculatus", "count": 4}, *LIST[:2]])
    seen = ("2026-03-05 17:00,event,algae_seen", anew)
    assert first_stage(planned(*OPENED, *seen, on="2026-03-06", tank=tank))[1] != date(2026, 3, 14)


def test_what_grows_by_itself_is_put_off_by_a_quarter_each_time_and_not_day_by_day() -> None:
    opened = date(2026, 3, 3)
    days = [TaskDays(rulebook(), gather(stocked(), journal_of(), opened + timedelta(days=d))).still_to_come(opened, "film_wait") for d in range(25)]
    # 10 days, then 12.5, 15.625, 19.5 and 24.4, each rounded up.
    assert sorted(set(days)) == [opened + timedelta(days=d) for d in (10, 13, 16, 20, 25)]  # type: ignore[type-var]
    # A day that was told stands to its evening, whatever was rounded.
    assert [days[d] for d in (10, 11, 13, 14)] == [opened + timedelta(days=d) for d in (10, 13, 13, 16)]


def test_snails_that_no_list_names_come_a_week_before_the_first_fish_and_share_no_day_with_a_stage() -> None:
    tank = stocked(keeper__away=[], wish_list=LIST[:3])
    before = planned(*OPENED, on="2026-03-04", tank=tank)
    crew = before.phase("crew")
    assert crew is not None and crew.window.likely is not None
    assert first_stage(before)[1] is not None and first_stage(before)[1] >= crew.window.likely  # type: ignore[operator]
    bought = planned(*OPENED, "2026-03-05 18:00,event,algae_seen", *SNAILS[:2], on="2026-03-09", tank=tank)
    assert task(bought, "fish/stage#1").date == date(2026, 3, 21)
    assert task(bought, "crew/second-half#1").date not in {date.fromisoformat(d) for d, _ in stages(bought, "fish").values()}


def test_a_gate_waits_for_a_test_that_is_fresh_on_its_day_however_fresh_the_last_one_is() -> None:
    """Two weeks after the first fish is 4 April, and the next test is the one of the second stage, a day later: the day does not hop with each test."""
    tank = stocked(wish_list=[], keeper__away=[])
    rows = (*OPENED, *SNAILS, "2026-03-21 15:00,done,fish/stage-1", "2026-03-21 15:00,added,fish,1",
            "2026-03-24 18:00,done,care/weekly-tests#1", *(f"2026-03-{d} 18:00,reading,{name},0,mg/L" for d in (22, 23, 24, 28) for name in ("ammonia", "nitrite")))
    days = set()
    for on in ("2026-03-28", "2026-03-29", "2026-03-30", "2026-03-31"):
        plan = planned(*rows, on=on, tank=tank)
        gate = plan.phase("fish")
        assert gate is not None
        days.add((gate.window.likely, task(plan, "fish/test-stage-2").date))
    assert days == {(date(2026, 4, 5), date(2026, 4, 5))}


def test_a_test_of_a_stage_is_not_late_once_a_later_one_of_it_was_ticked() -> None:
    tested = ("2026-03-23 18:00,done,fish/stage-test-two-days#1", "2026-03-23 18:00,reading,ammonia,0,mg/L", "2026-03-23 18:00,reading,nitrite,0,mg/L")
    missed = planned(*OPENED, *SHRIMPS, *CLOWNS, on="2026-03-24")
    assert task(missed, "fish/stage-test-day#1").tested_with == "care/weekly-tests#1"  # no weekly test was ever logged, and one set of tests answers all
    plan = planned(*OPENED, *SHRIMPS, *CLOWNS, *tested, on="2026-03-24")
    assert plan.task("fish/stage-test-day#1") is None
    assert task(plan, "fish/stage-test-week#1").state == State.PLANNED


def test_an_anemone_is_brought_in_as_an_anemone_and_not_as_a_coral() -> None:
    """Guards come before it does, and nobody dips it or sets it like a coral (common practice, no source)."""
    tank = tank_with(already={"big-change": "2026-03-01"}, tank__lid="no", equipment__light="250 PAR", wish_list=[{"animal": "entacmaea-quadricolor"}])
    rows = [f"2026-03-03 09:00,reading,{name},{value},{unit},display" for name, value, unit in (
        ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
    plan = make_plan(tank, journal_of(*rows, tank=tank), rulebook(), date(2026, 3, 3), catalogue=load_catalogue([RULES / "livestock"]))
    (stage,) = [t for t in plan.tasks if t.key == "corals/stage"]
    told = [str(step) for step in stage.steps]
    assert str(stage.title).startswith("Bring in the anemone")
    guard, grip = (next(n for n, step in enumerate(told) if said in step) for said in ("guard on every pump", "until it grips"))
    assert guard < grip
    assert not any("coral" in str(t.title).lower() for t in plan.tasks if t.animals == stage.animals or t.key.startswith("corals/stage-test"))


@pytest.mark.parametrize(("animal", "moves_up"), [("discosoma-spp", False), ("sarcophyton-glaucum", True)])
def test_a_coral_of_low_light_stays_low_and_no_guards_are_asked_for_where_no_anemone_comes(animal: str, moves_up: bool) -> None:
    """Light by the column `light_need` of livestock.csv: low for disc mushrooms, medium for leather corals."""
    tank = tank_with(already={"big-change": "2026-03-01"}, equipment__light="120 PAR", wish_list=[{"animal": animal}])
    plan = make_plan(tank, journal_of(tank=tank), rulebook(), date(2026, 3, 3), catalogue=load_catalogue([RULES / "livestock"]))
    (stage,) = [t for t in plan.tasks if t.key == "corals/stage"]
    told = " ".join(map(str, stage.steps))
    assert ("up over three weeks" in told) == moves_up and "guards" not in told


def test_the_days_of_a_phase_are_those_after_the_last_test_of_its_last_stage() -> None:
    """One rule in the plan, so that the overview, the whole plan, the paper and the machine form have the same days."""
    tank = tank_with(wish_list=[{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "trochus-maculatus", "count": 4}, {"animal": "sarcophyton"}])
    plan = make_plan(tank, journal_of(tank=tank), rulebook(), date(2026, 3, 2), catalogue=load_catalogue([RULES / "livestock"]))
    for id in ("crew", "fish", "corals"):
        phase, tests = plan.phase(id), [t for t in plan.tasks if t.phase == id and "#" in t.id and t.key.startswith(f"{id}/stage") and t.date is not None]
        assert phase is not None and tests
        assert phase.window.likely is not None and phase.window.likely >= max(t.date for t in tests if t.date is not None)


def test_ammonia_for_the_filter_moves_every_stage_behind_it_on_the_day_on_which_it_is_given() -> None:
    """Two days between ammonia and animals, and two weeks between stages: common practice, no source."""
    def days(*rows: str, on: str) -> dict[str, date | None]:
        return {t.id: t.date for t in planned(*OPENED, *rows, on=on, tank=stocked(keeper__away=[])).tasks if t.id in ("crew/stage#1", "fish/stage#1")}

    fed = "2026-03-06 09:00,dosed,ammonia,1,mg/L as N"
    without, given = days(on="2026-03-06"), days(fed, on="2026-03-06")
    assert (without["crew/stage#1"], given["crew/stage#1"]) == (date(2026, 3, 7), date(2026, 3, 14))
    assert (without["fish/stage#1"], given["fish/stage#1"]) == (date(2026, 3, 21), date(2026, 3, 28))
    assert days(fed, on="2026-03-08") == given


@pytest.mark.parametrize(("last_fed", "next_fed", "snails"), [("2026-03-07", 12, 14), ("2026-03-08", 13, 21), ("2026-03-09", 14, 21)])
def test_snails_that_wait_for_film_give_way_to_the_next_meal_of_the_filter(last_fed: str, next_fed: int, snails: int) -> None:
    """A meal every five days, and two days between it and animals: common practice, no source. Nobody knows when film comes, so the page
    dates the meal, and the snails on the first Saturday that it leaves."""
    tank = stocked(keeper__away=[], wish_list=[{"animal": "trochus-maculatus", "count": 4}])
    plan = planned(*OPENED, "2026-03-03 11:00,done,lights/first-light", f"{last_fed} 09:00,dosed,ammonia,1,mg/L as N", on="2026-03-10", tank=tank)
    assert (task(plan, "cycle/feed-idle#1").date, task(plan, "crew/stage#1").date) == (date(2026, 3, next_fed), date(2026, 3, snails))


def test_fish_do_not_wait_for_snails_once_the_crew_gate_has_opened_without_film_and_the_film_is_still_looked_for() -> None:
    """No film in four weeks, then clear tests open the gate (common practice, no source). With film the snails come first, as before."""
    tank = stocked(wish_list=[{"animal": "cerithium-litteratum", "count": 3}, {"animal": "amphiprion-ocellaris", "count": 2}])
    rows = (*OPENED, "2026-04-20 18:00,reading,ammonia,0,mg/L", "2026-04-20 18:00,reading,nitrite,0,mg/L")
    plan = planned(*rows, on="2026-04-28", tank=tank)
    first_fish, snails = min(day for day, _ in stages(plan, "fish").values()), min(day for day, _ in stages(plan, "crew").values())
    assert first_fish < snails
    assert "crew/look-again" in {t.key for t in plan.tasks if t.state in (State.DUE, State.LATE)}
    seen = planned(*rows, "2026-04-27 18:00,event,algae_seen", on="2026-04-28", tank=tank)
    assert min(day for day, _ in stages(seen, "crew").values()) < min(day for day, _ in stages(seen, "fish").values())
    assert "crew/look-again" not in {t.key for t in seen.tasks if t.state in (State.DUE, State.LATE)}


def test_the_day_that_ends_a_gates_wait_brings_it_no_sooner_than_its_eve_said() -> None:
    """Two weeks after the first fish a gate waits for one more test; that of an arrival on the same Saturday dates no gate on either page."""
    tank = tank_with(already={"big-change": "2026-03-01"}, wish_list=[{"animal": "amphiprion-ocellaris", "count": 2}], keeper__shopping_days=["saturday"])
    rows = ["2026-03-04 18:00,event,algae_seen,,,display,", "2026-03-21 18:00,done,fish/stage#1,,,display,", "2026-03-21 18:00,added,amphiprion-ocellaris,2,,display,"]
    rows += [f"2026-04-01 18:00,reading,{name},{value},{unit},display," for name, value, unit in (
        ("ammonia", 0, "mg/L"), ("nitrite", 0, "mg/L"), ("nitrate", 5, "mg/L"), ("ph", 8.2, ""), ("alkalinity", 8, "dKH"), ("salinity", 35, "ppt"), ("temperature", 25.5, "C"))]
    eve, day = (next(p.window.likely for p in make_plan(tank, journal_of(*rows, tank=tank), rulebook(), on, catalogue=load_catalogue([RULES / "livestock"])).phases if p.id == "fish")
                for on in (date(2026, 4, 3), date(2026, 4, 4)))
    assert eve == day == date(2026, 4, 8)
