"""The first side, for the wall: whose tank, what must not happen yet, what to do this week, and what to do when it goes wrong."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from types import MappingProxyType

from planner.plan.milestones import fish_came, next_fish
from planner.plan.places import Place, place_of
from planner.plan.standing import Standing
from planner.plan.texts import told_amount
from planner.rulebook.shapes import Rulebook
from planner.show.json.record_objects import Json
from planner.show.paper.needs import LAST_GATE, wall_tests
from planner.show.paper.often import every_words
from planner.show.paper.text import is_late, is_provisional
from planner.show.terminal.agenda import CLOSED, URGENT, alarm_ids, next_of_each, told_holds
from planner.show.words.conditions import food_words
from planner.show.words.words import bare_day, listed, short_day
from planner.terms.records import Phase, Plan, State, Task, Window

Fill = Callable[[str], str]

SHOCK = "shock"
FIRST_PLACES: dict[Place, int] = {"look": 0, "top_up": 1}
"""Of the jobs of one day the look at the floor comes first, as in the evening's walk; the others follow in the order of the plan."""
WEEK_DAYS, MOST_JOBS = 7, 40
TRIP = "Go shopping: trip {trip} of the list"
NO_DAY = "no day yet"
TELEPHONES = ("Electrician", "Poison centre", "Shop", "Neighbour")


def wall_data(plan: Plan, rules: Rulebook, fill: Fill, shop_phone: str, standing: Standing | None = None, trips: Mapping[date, int] = MappingProxyType({})) -> Json:
    """Everything on the first side but the letterhead. `fill` puts this tank's figures into rule texts."""
    return {
        "water": next((told_amount(q, plan.units) for q in plan.quantities if q.name == "net_volume"), ""), "not_yet": not_yet(plan, rules, standing),
        "tests": wall_tests(plan), "fish": fish_words(plan), "holds": holds_data(plan),
        "problems": problems_words(plan), "week": week_data(plan, rules, trips), "until": short_day(plan.on + timedelta(days=WEEK_DAYS - 1), plan.on), "emergency": _emergency(rules, fill),
        "telephones": [(name, shop_phone if name == "Shop" else "") for name in TELEPHONES],
    }


def not_yet(plan: Plan, rules: Rulebook, standing: Standing | None = None) -> Json:
    """What must stay out of the tank as things stand, in a line to read from the door; until when; and what the next dose waits for."""
    shut = _shut(plan, rules)
    if shut is None:
        return {"what": "No animals except those of the next stage.", "until": "And none of them before clean tests.", "also": []}
    out = next(p.gate.keeps_out for p in rules.phases if p.phase == shut.id)
    what = out[:1].upper() + out[1:].rstrip(",")
    last = shut.role == LAST_GATE
    return {"what": f"{what}.", "also": [said] if standing is not None and (said := food_words(standing)) else [], "until": f"Wait until “{shut.title}” is finished." + ("" if last else " No animal before you pass all the tests below.")}


def _shut(plan: Plan, rules: Rulebook) -> Phase | None:
    """The first phase whose gate keeps something out and is not passed."""
    keeps = {p.phase for p in rules.phases if p.gate.keeps_out}
    return next((p for p in plan.phases if p.opened is None and p.id in keeps), None)


def fish_words(plan: Plan) -> str:
    """`First fish: likely 8 August, between 19 July and 24 October`."""
    return ("Next fish: " if fish_came(plan) else "First fish: ") + span_words(next_fish(plan), plan)


def span_words(window: Window, plan: Plan) -> str:
    """`about Sat 8 Aug (19 Jul to 24 Oct)`."""
    return "about " + bare_span(window, plan) if window.likely is not None else NO_DAY


def bare_span(window: Window, plan: Plan) -> str:
    """`Sat 8 Aug (19 Jul to 24 Oct)`."""
    if window.likely is None:
        return NO_DAY
    ends = [d for d in (window.earliest, window.latest) if d is not None and d != window.likely]
    likely = short_day(window.likely, plan.on)
    if not ends:
        return likely
    first = bare_day(window.earliest or window.likely, plan.on)
    return f"{likely} ({first} to {bare_day(window.latest, plan.on)})" if window.latest is not None else f"{likely} (from {first} on)"


def holds_data(plan: Plan) -> list[Json]:
    found: dict[tuple[str, tuple[str, ...]], Json] = {}
    for hold in told_holds(plan):
        titles = [next((t.title for t in plan.tasks if key in (t.key, t.id) and t.state not in CLOSED), "") for key in hold.instead]
        found.setdefault((hold.because, hold.instead), {"since": short_day(hold.since, plan.on), "because": hold.because, "instead": [t for t in titles if t]})
    return list(found.values())


def problems_words(plan: Plan) -> str:
    if not plan.problems:
        return ""
    files = listed(dict.fromkeys(p.place.file for p in plan.problems))
    return f"We could not read everything in {files}, so something is missing here. Have the file corrected and the plan printed again."


def week_data(plan: Plan, rules: Rulebook, trips: Mapping[date, int] = MappingProxyType({})) -> list[Json]:
    """The jobs of the coming seven days, alarms and late ones first; what comes more than once says how often. The errands of a
    day are one trip (`trips`: its number on the list)."""
    end = plan.on + timedelta(days=WEEK_DAYS - 1)
    alarms = alarm_ids(plan, rules)
    jobs = [(t, later) for t, later in next_of_each(t for t in plan.tasks if t.state not in CLOSED and not t.tested_with)
            if t.state in URGENT or (t.date is not None and t.date <= end)]
    jobs.sort(key=lambda job: (job[0].phase not in alarms, not is_late(job[0], plan.on), job[0].state != State.DUE, is_provisional(job[0]), job[0].date or plan.on, FIRST_PLACES.get(place_of(rules.tasks.get(job[0].key)), len(FIRST_PLACES))))
    shut = _shut(plan, rules)
    rows, said = [], set()
    for t, later in jobs:
        trip = trips.get(t.date) if t.date is not None and t.role == "shopping" and not is_late(t, plan.on) else None
        if trip in said:
            continue
        said |= {trip} - {None}
        rows.append({
            "title": t.title if trip is None else TRIP.format(trip=trip), "after": shut.title if shut is not None and is_provisional(t) and t.phase != shut.id else "", "day": _day(t, plan),
            "often": every_words(t, later, rules), "hold": t.state == State.ON_HOLD,
        })
    return rows[:MOST_JOBS]


def _day(task: Task, plan: Plan) -> str:
    if is_late(task, plan.on):
        return "late"
    return "" if task.date is None else ("about " if is_provisional(task) else "") + short_day(task.date, task.date)


def _emergency(rules: Rulebook, fill: Fill) -> list[Json]:
    """What the alarms name for it, the gravest first, and the caution about shocks."""
    parts = [(a.first_aid.heading, [fill(a.say), *filter(None, map(fill, a.aid))]) for a in sorted(rules.alerts, key=lambda a: a.order) if a.first_aid is not None]
    if SHOCK in rules.cautions:
        caution = rules.cautions[SHOCK]
        parts.append((caution.title, [caution.text, caution.defer]))
    return [{"title": title, "steps": steps, "weight": round((len(title) + sum(map(len, steps)) + 30 * len(steps)) ** 0.85)} for title, steps in parts]


__all__ = ["bare_span", "fish_words", "holds_data", "not_yet", "problems_words", "span_words", "wall_data", "week_data"]
