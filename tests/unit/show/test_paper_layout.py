"""How the printed plan lies on its sheets, read back with pypdf: few of them, columns that end full, and no job torn where one turns the page."""

from __future__ import annotations

import re

import pytest

from planner.cli.common import load_tank
from planner.plan.shop_file import Shop
from tests.unit.handout_reader import SCENARIOS, Case, case_of, data_of, one_line, pages_of, reader

FIRST_DAYS = {
    "bottled-hot-room": "2026-06-06", "dry-rock-us": "2026-01-10", "leak-on-day-one": "2026-03-07", "live-rock-small": "2026-02-14", "shop-handover": "2026-05-09", "stalled-then-recovers": "2026-09-12",
}
"""The `start` of each tank file."""
MOST = {"live-rock-small": 14, "shop-handover": 16, "bottled-hot-room": 15, "leak-on-day-one": 15, "stalled-then-recovers": 15}
"""Pages on A4; a tank with every sort of animal has one more, one with everything still to be bought two."""
WHITE = 0.25
"""Share of a column that may stay white at its foot (one fifth is aimed at: common practice, no source)."""
MARGIN, FOOT = 8 / 25.4 * 72, 13.5 / 25.4 * 72
LONG = 320
"""Letters of a job from which on it may go over a turn, as the template has it."""


def first_day(scenario: str) -> Case:
    return case_of(scenario, FIRST_DAYS[scenario])


@pytest.mark.parametrize("scenario", FIRST_DAYS)
def test_a_plan_of_the_first_day_has_few_pages(scenario: str) -> None:
    assert load_tank(SCENARIOS / scenario, FIRST_DAYS[scenario]).tank.start == first_day(scenario).plan.on
    assert len(pages_of(first_day(scenario).printed(paper="a4").pdf)) <= MOST.get(scenario, 16)


@pytest.mark.parametrize("scenario", ["shop-handover", "live-rock-small", "stalled-then-recovers"])
def test_no_column_of_the_cards_ends_white(scenario: str) -> None:
    pdf = first_day(scenario).printed(paper="a4").pdf
    texts = pages_of(pdf)
    last = next(n for n, text in enumerate(texts) if "Cycle sheet Day 0" in text)
    shown = 0
    for page in [p for p, text in list(zip(reader(pdf).pages, texts, strict=True))[3 : last - 1] if "Danger" in text]:
        wide, high = float(page.mediabox.width), float(page.mediabox.height)
        lowest = [high, high]

        def note(text: str, cm: list[float], tm: list[float], font: object, size: float, wide: float = wide, lowest: list[float] = lowest) -> None:
            x, y = tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5]
            if text.strip() and y > FOOT - 4:
                lowest[x > wide / 2] = min(lowest[x > wide / 2], y)

        page.extract_text(visitor_text=note)
        assert max((y - FOOT) / (high - FOOT - MARGIN) for y in lowest) < WHITE, (scenario, page.extract_text()[:60])
        shown += 1
    assert shown >= 6


@pytest.mark.parametrize("scenario", ["shop-handover", "live-rock-small", "dry-rock-us"])
def test_no_short_job_is_torn_by_a_turn_of_the_page(scenario: str) -> None:
    case = first_day(scenario)
    pages = [page.replace(" ", "") for page in pages_of(case.printed(paper="a4").pdf)]
    short = [c for s in data_of(case)["cards"]["sections"] for c in s["cards"][1:] if len(" ".join([*c["steps"], *c["watch"]])) < LONG and len(c["steps"]) > 2 and not c["times"] and not c["brief"]]
    assert len(short) >= 3
    for card in short:
        steps = [one_line(step).replace(" ", "")[:30] for step in card["steps"]]
        assert any(all(step in page for step in steps) for page in pages), card["title"]


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_what_is_not_allowed_yet_has_no_box_on_the_first_side(paper: str) -> None:
    """Boxes are counted in the drawing: closed paths of 8.5 by 8.5 pt (operators `m`, `l` and `h`, ISO 32000-1, 8.5.2)."""
    case = first_day("shop-handover")
    pdf = case.printed(paper=paper).pdf
    page, drawn = pages_of(pdf)[0], reader(pdf).pages[0].get_contents()
    wall = data_of(case)["wall"]
    week = wall["week"]
    later = [j["title"] for j in week if j["after"]]
    now = [j["title"] for j in week if not j["after"]]
    assert len(later) > 5 and len(now) > 5 and drawn is not None
    assert len(re.findall(rb"0 0 m 8\.5 0 l 8\.5 8\.5 l 0 8\.5 l\s+h", drawn.get_data())) == len(now) + len(wall["tests"])
    head, _, waiting = page.partition("Not before “The place, the floor, the power and the shopping list” is finished: ")
    assert all(title in head for title in now) and all(title in waiting and title not in head for title in later)


def test_each_gate_names_itself_and_has_room_for_day_time_and_value() -> None:
    """Also where it stands in another column than its jobs."""
    case = first_day("shop-handover")
    text = " ".join(pages_of(case.printed().pdf))
    gates = [(s["short"], any(n["value"] for n in s["needs"])) for s in data_of(case)["cards"]["sections"] if s["needs"]]
    assert len(gates) > 8 and [short for short, value in gates if f"Done when ({short}) date, time{' value' if value else ''} " not in text] == []


def test_a_test_that_is_done_as_one_before_it_points_to_it() -> None:
    cards = {c["title"]: c for s in data_of(first_day("shop-handover"))["cards"]["sections"] for c in s["cards"]}
    pointing = {title: c["as"] for title, c in cards.items() if c["as"]}
    assert len(pointing) >= 2 and all(re.match("Test ammonia and nitrite on the day of", title) for title in pointing)
    assert all(cards[first]["steps"] and not cards[title]["steps"] for title, first in pointing.items())


@pytest.mark.parametrize("scenario", ["shop-handover", "live-rock-small", "dry-rock-us"])
def test_a_milder_caution_of_many_jobs_stands_once_above_them_and_a_danger_stays_with_each(scenario: str) -> None:
    """Whatever a rule names for a job stands with the job or above it."""
    case, data = first_day(scenario), data_of(first_day(scenario))
    sections = {s["title"]: s for s in data["cards"]["sections"]}
    above, lost = 0, []
    for phase in (p for p in case.plan.phases if p.title in sections):
        section = sections[phase.title]
        assert all(weight in ("Care", "Note") for weight, _ in section["through"])
        shared = {name for _, names in section["through"] for name in names}
        above += len(shared)
        for card in section["cards"]:
            own = {name.lower() for _, name, _ in card["guards"]} | {name for _, names in card["cautions"] for name in names}
            assert not shared & {name for _, names in card["cautions"] for name in names}
            if card["stands_for"] or card["again"]:
                continue
            for rule in {t.key: case.rules.tasks[t.key] for t in case.plan.tasks if t.phase == phase.id and one_line(t.title) == one_line(card["title"]) and t.role != "shopping"}.values():
                lost += [(card["title"], c) for c in rule.cautions if c.replace("_", " ").replace("-", " ") not in own | shared]
    assert above >= 2 and lost == []


def test_the_sources_stand_once_also_beside_a_note_of_the_shop() -> None:
    for note, paper, fits in (("Bring a bottle of your water. " * 3, "a4", True), ("A word from the counter.\n\n" * 18, "letter", False)):
        pages = pages_of(first_day("shop-handover").printed(shop=Shop(name="Corner Reef Shop", note=note), paper=paper).pdf)
        found = [n for n, page in enumerate(pages, 1) if "Where the numbers come from" in page]
        assert len(found) == 1 and (found == [2]) == fits
