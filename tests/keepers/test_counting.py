"""Each count fires on a day or a life that was made wrong on purpose, and keeps silent on the same one made right."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.keepers.count import judge
from tests.keepers.effort import effort
from tests.keepers.offence import COLLISION, DEAD_END, HARM, JUMP, SILENT, STAYS, TREADMILL, WRONG, Offence
from tests.keepers.record import Day, Job, Page

START = date(2026, 3, 1)
CLEAR = {"tan": 0.0, "nitrite": 0.0, "nitrate": 5.0, "alkalinity": 8.0, "ph": 8.2, "salinity": 35.0, "temperature": 25.0, "oxygen": 6.7, "phosphate": 0.05}
DOSE = Job("cycle/challenge-dose#1", "cycle/challenge-dose", "cycle", "step", "Prove the filter", "due", "display", "dosed:ammonia", 0, 15, "Weigh it.")
CHANGE = Job("nitrate/change#1", "nitrate/change", "nitrate", "remedy", "Change a quarter", "due", "display", "changed_water:water", 50, 60, "Siphon out 50 L.")
BICARBONATE = Job("cycle/bicarbonate#1", "cycle/bicarbonate", "cycle", "remedy", "Raise alkalinity", "due", "display", "dosed:bicarbonate", 0, 15, "Weigh it.")
FISH = Job("fish/stage#1", "fish/stage", "fish", "animals", "Bring in the fish", "due", "display", "added:fish", 0, 120, "Float the bag.", (("amphiprion-ocellaris", 2),))
CORAL = Job("corals/stage#1", "corals/stage", "corals", "animals", "Bring in the corals", "due", "display", "added:soft-coral", 0, 60, "Float the bag.", (("discosoma-spp", 1),))
PUMPS = Job("care/pumps#1", "care/pumps", "care", "care", "Clean the pumps", "due", "display", "", 0, 60, "Clean them.")
FAST = Job("ammonia-one/change#1", "ammonia-one/change", "ammonia-one", "remedy", "Change some water", "due", "display", "changed_water:water", 50, 60, "Siphon. Give no food today.")
MEAL = Job("fish/test-day", "fish/test-day", "fish", "test", "Test a day after", "due", "display", "", 0, 20, "Test. Give small meals, no more than is eaten in two minutes.")


def page(*jobs: Job, **changes: object) -> Page:
    return replace(Page(jobs, (), (), ("site", "scape", "start-up"), {}, {}, (), (), START + timedelta(days=300), 200.0), **changes)  # type: ignore[arg-type]


def day(number: int, shown: Page, **changes: object) -> Day:
    made = Day(number, START + timedelta(days=number), [shown], water=dict(CLEAR), before=dict(CLEAR))
    for name, value in changes.items():
        setattr(made, name, value)
    return made


def whats(offences: list[Offence], kind: str) -> list[str]:
    return [o.what for o in offences if o.kind == kind]


def read(ammonia: str, nitrite: str) -> list[tuple[str, ...]]:
    return [("reading", "ammonia", ammonia, "mg/L as N", "display"), ("reading", "nitrite", nitrite, "mg/L as N", "display")]


ARRIVAL = ("added", "gramma-loreto", "1", "", "display")


@pytest.mark.parametrize(("shown", "changes", "wanted"), [
    (page(DOSE), {"animals_before": 2}, "ammonia dose with animals in"),
    (page(DOSE, FISH), {}, "ammonia dose on the day of an arrival"),
    (page(DOSE, arrivals_tomorrow=("fish/stage#1",)), {}, "ammonia dose on the day before an arrival"),
    (page(DOSE, replace(DOSE, id="cycle/re-dose#1", key="cycle/re-dose")), {}, "two ammonia doses on a page"),
    (page(DOSE, replace(PUMPS, key="cycle/pause")), {}, "ammonia dose beside 'leave out the ammonia'"),
    (page(DOSE, CHANGE), {}, "ammonia dose beside a water change"),
    (page(CHANGE, FAST), {}, "two water changes on a page"),
    (page(replace(CHANGE, litres=150)), {"animals_before": 2}, "a change above half with animals in"),
    (page(BICARBONATE, alerts=("ammonia-two",)), {}, "alkalinity dose under an ammonia or nitrite alarm"),
    (page(BICARBONATE, replace(BICARBONATE, id="alkalinity-low/raise#1")), {}, "two alkalinity doses on a page"),
    (page(BICARBONATE, CHANGE), {}, "alkalinity dose beside a large change"),
    (page(BICARBONATE, alerts=("salinity-low",)), {"before": CLEAR | {"salinity": 33.0}}, "alkalinity dose while salinity is off"),
    (page(BICARBONATE, replace(CHANGE, key="salinity-low/raise", phase="salinity-low", writes=""), alerts=("salinity-low",)), {}, "alkalinity dose while salinity is off"),
    (page(FISH, CORAL), {}, "newcomers of two groups on a page"),
    (page(FISH, replace(FISH, id="fish/stage#2")), {}, "two arrivals on a page"),
    (page(FISH, alerts=("nitrate",)), {}, "an arrival under an alarm"),
    (page(CORAL, alerts=("alkalinity-notice",)), {}, "an arrival under an alarm"),
    (page(PUMPS, alerts=("nitrite",)), {}, "filter cleaned under an ammonia or nitrite alarm"),
    (page(CHANGE), {"proof_since": 0}, "water change while a proof dose is running"),
    (page(*[replace(CHANGE, id=f"x{n}", key=f"x{n}", writes="") for n in range(4)]), {}, "more than three remedies on a page"),
    (page(FAST, MEAL), {"animals_before": 3}, "feed and feed nothing"),
])
def test_a_colliding_page_is_counted(shown: Page, changes: dict[str, object], wanted: str) -> None:
    assert wanted in whats(judge([day(0, shown, **changes)], True), COLLISION)


def test_a_salt_that_is_no_alarm_yet_keeps_out_no_fish() -> None:
    assert whats(judge([day(0, page(FISH, alerts=("alkalinity-notice",)), rows=read("0", "0"))], True), COLLISION) == []


@pytest.mark.parametrize("job", [DOSE, CHANGE, BICARBONATE, FISH, CORAL, PUMPS, FAST, MEAL])
def test_an_order_alone_collides_with_nothing(job: Job) -> None:
    assert whats(judge([day(0, page(job), rows=read("0", "0"))], True), COLLISION) == []


@pytest.mark.parametrize(("rows", "wanted"), [
    ([("dosed", "ammonia", "2", "g", "display")] * 2, "ammonia dosed twice in a day"),
    ([("dosed", "ammonia", "2", "g", "display"), ("added", "gramma-loreto", "1", "", "display")], "ammonia and an arrival in a day"),
    ([("added", "gramma-loreto", "1", "", "display"), ("added", "discosoma-spp", "1", "", "display")], "newcomers of two groups in a day"),
    ([("changed_water", "water", "20", "L", "display")] * 2, "two water changes in a day"),
])
def test_a_day_that_obeyed_one_page_after_another_is_counted(rows: list[tuple[str, ...]], wanted: str) -> None:
    assert wanted in whats(judge([day(0, page(), rows=rows)], True), COLLISION)


def test_what_the_impatient_does_on_his_own_is_not_the_plans_collision() -> None:
    assert whats(judge([day(0, page(), rows=[("dosed", "ammonia", "2", "g", "display")] * 2, early=["cycle/re-dose"])], True), COLLISION) == []


@pytest.mark.parametrize(("readings", "wanted"), [
    (read("0.25", "0"), ["an arrival although ammonia shows"]),
    (read("0", ">5"), ["an arrival although nitrite shows"]),
    (read("0", "0"), []),
])
def test_an_arrival_into_water_that_shows_is_counted(readings: list[tuple[str, ...]], wanted: list[str]) -> None:
    assert whats(judge([day(0, page(), rows=[*readings, ARRIVAL])], True), COLLISION) == wanted


def test_a_clear_test_after_the_arrival_excuses_nothing() -> None:
    assert whats(judge([day(0, page(), rows=[*read("0.5", "0"), ARRIVAL, *read("0", "0")])], True), COLLISION) == ["an arrival although ammonia shows"]


def test_an_arrival_on_an_old_test_is_counted() -> None:
    life = [day(0, page(), rows=read("0", "0")), day(1, page()), day(2, page(), rows=[ARRIVAL])]
    assert whats(judge(life, True), COLLISION) == ["an arrival without a test of that day or the day before"]


def test_an_arrival_on_the_page_of_a_day_without_a_test_is_counted() -> None:
    assert whats(judge([day(0, page(FISH))], True), COLLISION) == ["an arrival on the page of a day without a test"]
    assert whats(judge([day(0, page(FISH), rows=read("0", "0"))], True), COLLISION) == []


def test_poison_that_is_read_and_not_answered_is_counted() -> None:
    readings = {"quarantine:ammonia": "1.25"}
    assert whats(judge([day(n, page(), readings=readings, animals=2) for n in range(3)], True), SILENT) == ["ammonia in the quarantine"]
    answer = page(replace(CHANGE, where="quarantine"))
    assert whats(judge([day(n, answer, readings=readings, animals=2) for n in range(3)], True), SILENT) == []


def ready_life(days: int, **changes: object) -> list[Day]:
    return [day(n, page(DOSE, needs=("cycle: a proof",)), proof_left=0.05, **changes) for n in range(days)]


def test_a_gate_shut_in_a_ready_tank_is_a_dead_end() -> None:
    assert whats(judge(ready_life(16), True), DEAD_END) == ["gate cycle shut in a ready tank"]


@pytest.mark.parametrize("changes", [{"proof_left": 0.8}, {"away": True}, {"water": CLEAR | {"tan": 0.5}}])
def test_a_gate_shut_for_good_reason_is_no_dead_end(changes: dict[str, object]) -> None:
    life = ready_life(30)
    for each in life:
        for name, value in changes.items():
            setattr(each, name, value)
    assert whats(judge(life, True), DEAD_END) == []


def test_a_filter_that_starves_behind_its_gate_is_a_dead_end() -> None:
    def life(*jobs: Job) -> list[Day]:
        return [day(n, page(PUMPS, *jobs), proof_left=0.8) for n in range(16)]

    assert whats(judge(life(), True), DEAD_END) == ["gate cycle shut, and nothing feeds or proves the filter"]
    assert whats(judge(life(DOSE), True), DEAD_END) == []


@pytest.mark.parametrize(("fall", "wanted"), [(3.0, []), (0.5, ["gate big-change shut in a ready tank"])])
def test_a_high_nitrate_that_really_falls_is_no_dead_end(fall: float, wanted: list[str]) -> None:
    shown = page(CHANGE, needs=("big-change: nitrate",), opened=("scape", "start-up", "cycle"))
    life = [day(n, shown, proof_left=0.05, water=CLEAR | {"nitrate": 120.0 - fall * n}) for n in range(24)]
    assert whats(judge(life, True), DEAD_END) == wanted


def test_a_low_nitrate_is_ready_however_it_falls() -> None:
    shown = page(CHANGE, needs=("big-change: nitrate",), opened=("scape", "start-up", "cycle"))
    life = [day(n, shown, proof_left=0.05, water=CLEAR | {"nitrate": 24.0 - 0.5 * n}) for n in range(24)]
    assert whats(judge(life, True), DEAD_END) == ["gate big-change shut in a ready tank"]


def test_a_first_gate_that_asks_the_same_for_a_fortnight_is_a_dead_end() -> None:
    def life(*tested: str) -> list[Day]:
        return [day(n, page(DOSE, needs=("water: solids",)), tested=list(tested)) for n in range(17)]

    assert whats(judge(life("water/measure"), True), DEAD_END) == ["gate water asks the same thing for a fortnight"]
    assert whats(judge(life("rock/cure-test"), True), DEAD_END) == []


def test_a_week_of_nothing_behind_a_shut_gate_is_a_dead_end() -> None:
    assert whats(judge([day(n, page(next_day=None)) for n in range(8)], True), DEAD_END) == ["a week with nothing to do and nothing dated"]


def proofs(*left: float) -> list[Day]:
    """A proof dose each evening, and what was left of it the evening after."""
    return [day(n, page(), done=[(f"cycle/challenge-dose#{n}", "cycle/challenge-dose")], before=CLEAR | {"nitrite": value}) for n, value in enumerate((0.0, *left))]


def test_a_proof_that_fails_five_times_alike_is_a_treadmill() -> None:
    assert whats(judge(proofs(0.6, 0.6, 0.6, 0.6, 0.6), True), TREADMILL) == ["cycle/challenge-dose"]
    assert whats(judge(proofs(0.9, 0.8, 0.7, 0.5, 0.4), True), TREADMILL) == []


def test_proofs_on_either_side_of_an_open_gate_are_counted_apart() -> None:
    life = proofs(0.6, 0.6, 0.6, 0.6, 0.6)
    life[3].pages = [page(opened=("scape", "cycle"))]
    assert whats(judge(life, True), TREADMILL) == []


def test_a_test_made_fifteen_times_for_one_gate_is_a_treadmill() -> None:
    def life(opens_on: int) -> list[Day]:
        return [day(n, page(opened=("scape", "big-change") if n == opens_on else ("scape",)), tested=["big-change/nitrate-test"], readings={"display:nitrate": "30"}) for n in range(16)]

    assert whats(judge(life(99), True), TREADMILL) == ["test big-change/nitrate-test"]
    assert whats(judge(life(8), True), TREADMILL) == []


@pytest.mark.parametrize(("every", "found"), [(6, ["test nitrate/retest"]), (7, [])])
def test_an_alarms_test_is_a_treadmill_if_fifteen_fall_into_a_season(every: int, found: list[str]) -> None:
    """Fourteen gaps of six days are 84 days, of seven 98; a season has 91."""
    days = [day(n, page(opened=("animals",))) for n in range(15 * every)]
    for n in range(0, 15 * every, every):
        days[n].tested.append("nitrate/retest")
    assert whats(judge(days, True), TREADMILL) == found


@pytest.mark.parametrize(("every", "nitrite", "found"), [(3, 0.15, []), (2, 0.15, ["test nitrite-doubt/retest"]), (3, 0.0, ["test nitrite-doubt/retest"])])
def test_every_third_day_is_no_treadmill_for_nitrite_that_is_really_there(every: int, nitrite: float, found: list[str]) -> None:
    days = [day(n, page(opened=("animals",)), before=CLEAR | {"nitrite": nitrite}) for n in range(15 * every)]
    for n in range(0, 15 * every, every):
        days[n].tested.append("nitrite-doubt/retest")
    assert whats(judge(days, True), TREADMILL) == found


def test_a_change_that_moves_nothing_five_times_is_a_treadmill() -> None:
    assert whats(judge([day(n, page(), done=[(f"nitrate/change#{n}", "nitrate/change")]) for n in range(5)], True), TREADMILL) == ["nitrate/change"]


def test_an_order_that_moves_its_reading_is_no_treadmill() -> None:
    life = [day(n, page(), done=[(f"nitrate/change#{n}", "nitrate/change")], before=CLEAR | {"nitrate": 80.0 - 10 * n}) for n in range(6)]
    assert whats(judge(life, True), TREADMILL) == []


def test_full_retests_without_end_are_a_treadmill() -> None:
    names = ("ammonia", "nitrite", "nitrate", "ph", "alkalinity", "salinity", "temperature")
    shown = page(opened=("scape", "start-up", "cycle", "big-change"))
    assert "full retest" in whats(judge([day(n, shown, readings={f"display:{x}": "0" for x in names}) for n in range(5)], True), TREADMILL)


def test_harm_beside_an_obedient_keeper_is_counted_and_after_a_fault_it_is_not() -> None:
    calm = [day(0, page(), harm={"ammonia": 12.0})]
    after_fault = [day(0, page(), fault="power_cut"), day(3, page(), harm={"ammonia": 12.0})]
    assert whats(judge(calm, True), HARM) == ["ammonia"]
    assert whats(judge(after_fault, True), HARM) == []
    assert whats(judge(calm, False), HARM) == []


def test_a_gate_promised_for_a_day_that_has_passed_is_counted() -> None:
    assert whats(judge([day(0, page(likely={"cycle": START - timedelta(days=1)}))], True), JUMP) == ["gate cycle is promised for a day that has passed"]
    assert whats(judge([day(0, page(likely={"cycle": START}))], True), JUMP) == []


def test_a_date_that_moves_overnight_is_a_jump() -> None:
    life = [day(0, page(likely={"cycle": date(2026, 4, 1)})), day(1, page(likely={"cycle": date(2026, 4, 5)}))]
    assert whats(judge(life, True), JUMP) == ["gate cycle"]


@pytest.mark.parametrize(("cycle", "fish", "wanted"), [
    ((20, 21), (1, 8), []), ((21, 20), (8, 1), []),
    ((20, 20), (1, 8), ["gate fish"]),  # nothing before it moved
    ((20, 21), (1, 9), ["gate fish"]),  # farther than any shopping day
    ((20, 21), (8, 1), ["gate fish"]),  # the other way
    ((20, 22), (1, 8), ["gate cycle"]),
])
def test_a_single_day_of_the_proof_moves_what_is_bought_to_the_next_shopping_day(cycle: tuple[int, int], fish: tuple[int, int], wanted: list[str]) -> None:
    life = [day(n, page(likely={"cycle": date(2026, 4, cycle[n]), "fish": date(2026, 6, fish[n])})) for n in range(2)]
    assert whats(judge(life, True), JUMP) == wanted


@pytest.mark.parametrize("changes", [{"rows": [("reading", "ammonia", "2", "mg/L as N", "display")]}, {"away": True}, {"pages": [page(DOSE, likely={"cycle": date(2026, 4, 1)})]}])
def test_a_date_that_moves_after_a_reading_an_absence_or_a_job_left_undone_is_none(changes: dict[str, object]) -> None:
    life = [day(0, page(likely={"cycle": date(2026, 4, 1)}), **changes), day(1, page(likely={"cycle": date(2026, 4, 5)}))]
    assert whats(judge(life, True), JUMP) == []


@pytest.mark.parametrize(("missed", "opened", "wanted"), [(True, (), []), (False, (), ["gate animals"]), (True, ("cycle",), ["gate animals"])])
def test_a_proof_that_lapses_for_want_of_a_meal_left_undone_days_ago_is_no_jump(missed: bool, opened: tuple[str, ...], wanted: list[str]) -> None:
    likely = [{"animals": date(2026, 4, 1)}] * 2 + [{"animals": date(2026, 4, 9)}]
    pages = [page(*[DOSE] * missed, opened=("cycle",), likely=likely[0]), page(opened=("cycle",), likely=likely[1]), page(opened=opened, likely=likely[2])]
    assert whats(judge([day(n, shown) for n, shown in enumerate(pages)], True), JUMP) == wanted


def test_a_next_stage_that_changes_its_animals_is_a_jump() -> None:
    opened = ("scape", "cycle", "big-change", "animals")
    life = [day(n, page(opened=opened, stages={"fish/stage#1": (date(2026, 4, 1), ((animal, 1),))})) for n, animal in enumerate(("gramma-loreto", "chromis-viridis"))]
    assert whats(judge(life, True), JUMP) == ["animals of the next stage"]


@pytest.mark.parametrize(("shown", "wanted"), [({}, ["the next stage comes earlier"]), ({"needs": ("quarantine: a proof",)}, []), ({"unsure": frozenset({"fish/stage#1"})}, [])])
def test_a_next_stage_that_comes_earlier_is_a_jump_once_its_way_is_clear(shown: dict[str, object], wanted: list[str]) -> None:
    opened = ("scape", "cycle", "big-change", "animals")
    life = [day(n, page(opened=opened, stages={"fish/stage#1": (date(2026, 4, on), (("gramma-loreto", 1),))}, **shown)) for n, on in enumerate((20, 6))]
    assert whats(judge(life, True), JUMP) == wanted


def test_an_alarm_that_outlives_its_cause_is_counted() -> None:
    assert whats(judge([day(n, page(FAST, alerts=("ammonia-one",))) for n in range(9)], True), STAYS) == ["alarm ammonia-one"]
    assert whats(judge([day(n, page(FAST, alerts=("ammonia-one",)), water=CLEAR | {"tan": 0.4}) for n in range(9)], True), STAYS) == []


def test_a_hold_that_outlives_its_cause_is_counted() -> None:
    assert whats(judge([day(n, page(holds=(("fish", "An animal has been ill.", False),))) for n in range(25)], True), STAYS) == ["hold fish"]
    assert whats(judge([day(n, page(holds=(("fish", "No fresh test.", True),))) for n in range(25)], True), STAYS) == []


def test_a_tick_that_is_refused_is_counted() -> None:
    assert whats(judge([day(0, page(), said=["refused: x: no"])], True), WRONG) == ["refused a tick of its own page"]


def test_the_effort_of_a_life_is_its_weeks() -> None:
    life = [day(n, page(opened=("scape",) if n < 10 else ("scape", "animals")), readings={"display:ammonia": "0"}, minutes=20) for n in range(14)]
    life[12].rows = [("added", "gramma-loreto", "1", "", "display")]
    found = effort(life)
    assert (found.tests_a_week, found.minutes_a_week, found.water_to_animals, found.first_fish) == (7.0, 140.0, 10, 12)


def test_a_next_stage_that_comes_earlier_because_a_gate_opened_is_no_jump() -> None:
    opened = ("scape", "cycle", "big-change", "animals")
    life = [day(n, page(opened=opened + gate, stages={"fish/stage#1": (date(2026, 4, on), (("gramma-loreto", 1),))})) for n, (on, gate) in enumerate(((20, ()), (6, ("crew",))))]
    assert whats(judge(life, True), JUMP) == []


def test_a_trace_of_nitrite_or_ammonia_that_is_over_keeps_out_no_alkalinity_and_a_low_salt_no_fish() -> None:
    for over in ("nitrite-doubt", "ammonia-after"):
        assert whats(judge([day(0, page(BICARBONATE, alerts=(over,)))], True), COLLISION) == []
    assert whats(judge([day(0, page(BICARBONATE, alerts=("ammonia-doubt",)))], True), COLLISION) == ["alkalinity dose under an ammonia or nitrite alarm"]
    tested = read("0", "0")
    assert whats(judge([day(0, page(FISH, alerts=("alkalinity-low",)), rows=tested)], True), COLLISION) == []
    assert whats(judge([day(0, page(CORAL, alerts=("alkalinity-low",)), rows=tested)], True), COLLISION) == ["an arrival under an alarm"]


def test_a_salinity_alarm_that_waits_for_its_second_good_test_alone_keeps_out_no_alkalinity() -> None:
    again = Job("salinity-high/again#1", "salinity-high/again", "salinity-high", "test", "Test salinity once more", "due", "display", "", 0, 10, "Test it.")
    for true, wanted in ((35.1, []), (36.4, ["alkalinity dose while salinity is off"])):
        shown = page(BICARBONATE, again, alerts=("alkalinity-low", "salinity-high"))
        assert whats(judge([day(0, shown, before=CLEAR | {"salinity": true})], True), COLLISION) == wanted


def test_ammonia_in_quarantine_keeps_nothing_out_of_the_display() -> None:
    assert whats(judge([day(0, page(CORAL, alerts=("quarantine-ammonia",)), rows=read("0", "0"))], True), COLLISION) == []


def test_alkalinity_that_a_dose_lifts_and_the_filter_uses_up_again_is_no_treadmill() -> None:
    def life(lifted_to: float) -> list[Day]:
        return [day(7 * n, page(), done=[(f"cycle/bicarbonate#{n}", "cycle/bicarbonate")], before=CLEAR | {"alkalinity": 6.5}, water=CLEAR | {"alkalinity": lifted_to}) for n in range(5)]

    assert whats(judge(life(7.4), True), TREADMILL) == []
    assert whats(judge(life(6.6), True), TREADMILL) == ["cycle/bicarbonate"]


def test_two_clean_weeks_after_ammonia_are_no_alarm_that_stays() -> None:
    assert whats(judge([day(n, page(alerts=("ammonia-after",))) for n in range(15)], True), STAYS) == []


def test_a_fortnight_without_a_job_before_a_shut_gate_is_a_dead_end_whatever_day_is_promised() -> None:
    def life(*jobs: Job) -> list[Day]:
        return [day(n, page(*jobs, opened=("site",), next_day=START + timedelta(days=n + 1))) for n in range(15)]

    assert whats(judge(life(), True), DEAD_END) == ["a fortnight with nothing to do"]
    assert whats(judge(life(PUMPS), True), DEAD_END) == []


@pytest.mark.parametrize(("weeks", "alerts", "wanted"), [(11, (), ["stage corals/stage moves on and on"]), (10, (), []), (11, ("nitrate-waits",), [])])
def test_a_stage_that_moves_on_from_week_to_week_is_a_dead_end_unless_an_alarm_says_what_to_do(weeks: int, alerts: tuple[str, ...], wanted: list[str]) -> None:
    opened = ("site", "scape", "start-up", "cycle", "big-change", "animals", "crew", "fish", "corals")
    life = [day(n, page(opened=opened, alerts=alerts, stages={"corals/stage#1": (START + timedelta(days=7 * (n // 7 + 1)), (("caulastraea-furcata", 1),))})) for n in range(7 * weeks)]
    assert whats(judge(life, True), DEAD_END) == wanted
