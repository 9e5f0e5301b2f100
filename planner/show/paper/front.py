"""The front sheet of the printed plan, two sides: whose tank, when, what next, what opens the gates, and what to do when it goes wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import lru_cache
from itertools import pairwise

from planner.files.tank import Glass, Tank
from planner.plan.milestones import fish_came, next_fish
from planner.plan.stage_records import StockPlan
from planner.plan.texts import shown_amount
from planner.rulebook.shapes import Rulebook
from planner.science.water import sg_from_salinity
from planner.show.calendar.text import shorten
from planner.show.json.record_objects import Json
from planner.show.paper.days import amounts_of, need_text, state_note
from planner.show.paper.text import day_of, is_provisional
from planner.show.terminal.agenda import CLOSED, URGENT, alarm_ids, next_of_each
from planner.show.terminal.timeline import STATES
from planner.show.words.conditions import need_reads, need_words
from planner.show.words.wish_list import animal_name
from planner.show.words.words import MONTHS, bare_day, day_words, listed, short_day, window_words
from planner.stock.catalogue import Catalogue
from planner.terms.amounts import format_amount
from planner.terms.causes import cause
from planner.terms.readings import READINGS
from planner.terms.records import Answer, Phase, Plan, State
from planner.terms.written_amounts import IONS, NITROGEN

Fill = Callable[[str], str]

LAST_GATE = "opens_to_animals"
"""Gates behind this one stand with their phases; the table of the front sheet ends with the one that lets life in."""
EMERGENCIES = (("Water on the floor", "leak", "stop", 3), ("Power cut, animals in", "power-cut-stocked", "air", 3), ("Animals gasp, or ammonia shows", "ammonia-three", "change", 4))
"""Heading, alert, its task, and how many of its steps the strip has room for."""
SHOCK = "shock"
MOST_NEXT = 20
MONTH_ROOM = 0.18
"""Share of the time line that the name of a month takes."""
SORTS = ("fish", "corals")
MOST_NAMES, NAME_OCTETS = 3, 32
CAUTION_ROOM = 2000
"""Characters of cautions on the second side: about 20 lines."""
ALWAYS_CAUTIONED = frozenset({"mains", SHOCK, "wet_floor", "children"})
LOGGED = {"ammonia": 22, "nitrite": 22, "nitrate": 22, "salinity": 15, "temperature": 21, "ph": 13, "alkalinity": 17}
"""Readings that have a column on the sheet to write on, each with its width in mm."""
_ABSOLUTE = re.compile(r"\b(?:never|always|nobody|only|not|neither)\b", re.IGNORECASE)
_PPT = re.compile(r"(\d+(?:\.\d+)?)\s*ppt")


def front_data(plan: Plan, tank: Tank, rules: Rulebook, fill: Fill, stock: StockPlan | None = None, catalogue: Catalogue | None = None) -> Json:
    """Everything on the two sides but the letterhead. `fill` puts this tank's figures into rule texts."""
    gates, readings = _gates(plan)
    facts = _facts(plan, tank)
    unplanned = [sort for sort in SORTS if cause("none_wished", sort=sort) in plan.notices]
    return {
        "day": day_words(plan.on), "facts": facts, "holds": _holds(plan), "problems": _problems(plan), "timeline": _timeline(plan, unplanned), "next": _next(plan, rules, facts),
        "emergency": _emergency(rules, fill), "gates": gates, "pairs": _pairs(readings), "log": _log(tank),
        "cautions": _cautions(plan, rules), "not_yet": _not_yet(plan, rules), "fish": _fish_day(plan), "wishes": _wishes(stock, catalogue, unplanned),
    }


def _not_yet(plan: Plan, rules: Rulebook) -> str:
    """What must stay out of the tank as things stand."""
    out = {p.phase: p.gate.keeps_out for p in rules.phases if p.gate.keeps_out}
    shut = next((p for p in plan.phases if p.opened is None and p.id in out), None)
    if shut is not None:
        return f"Not yet: {out[shut.id]} before you finish “{shut.title}”" + ("." if shut.role == LAST_GATE else ". No animal before you pass all tests on the next page.")
    return "Not yet: no animals except those of the next stage, and none before clean tests."


def _fish_day(plan: Plan) -> tuple[str, str]:
    """`First fish` and its likely day with the span, or that there is none yet."""
    window = next_fish(plan)
    return ("Next fish" if fish_came(plan) else "First fish", window_words(window, plan.on, "no day yet") if window.likely else "no day yet")


def _wishes(stock: StockPlan | None, catalogue: Catalogue | None, unplanned: Sequence[str]) -> str:
    """Which wishes were refused or not understood, in a line or two; why stands with the wish list."""
    if stock is None:
        return ""
    left = dict.fromkeys(animal_name(x.animal_id, catalogue) for x in stock.verdict.left_out)
    told = [f"{said} {_few(list(names))}" for said, names in (("left out", left), ("not understood", dict.fromkeys(f"“{written}”" for written, _ in stock.unclear))) if names]
    told += [f"no {sort} planned" for sort in unplanned]
    return "; ".join(told) + "." if told else ""


def _few(names: Sequence[str]) -> str:
    shown = [shorten(name, NAME_OCTETS) for name in names[:MOST_NAMES]]
    return listed([*shown, f"{len(names) - MOST_NAMES} more"] if len(names) > MOST_NAMES else shown)


def _cautions(plan: Plan, rules: Rulebook) -> list[tuple[str, str]]:
    """Title, and the line that protects with whom to ask: first those of what can be done now, as many as the side has
    room for. All stand in full on a later page."""
    going = [p.id for p in plan.phases if p.opened is None and p.role != "without_end"][:2]
    now = {key for t in plan.tasks if t.state not in CLOSED and t.phase in going for key in t.cautions} | ALWAYS_CAUTIONED
    found, room = [], CAUTION_ROOM
    for caution in (rules.cautions[key] for key in sorted(rules.cautions, key=lambda key: key not in now)):
        said = (caution.title, f"{caution.line or _rule_to_keep(caution.text)} {caution.defer}")
        room -= sum(map(len, said))
        if room < 0:
            break
        found.append(said)
    return found


def _rule_to_keep(text: str) -> str:
    """The sentence that forbids or demands, else the first."""
    sentences = re.split(r"(?<=\.) +(?=[A-Z])", text)
    return next((s for s in sentences if _ABSOLUTE.search(s)), sentences[0])


def _facts(plan: Plan, tank: Tank) -> list[tuple[str, str]]:
    shown = {q.name: shown_amount(q.value, q.unit, plan.units) for q in plan.quantities}
    found = [("Size", size_words(tank.tank, plan.units, shown.get("gross_volume", "")))]
    if "net_volume" in shown:
        found.append(("Water in it", f"{shown['net_volume']} net, use this for every dose"))
    if "target_salinity" in shown:
        found.append(("Salinity", f"aim for {shown['target_salinity']}" + (f", which is {shown['target_sg']}" if "target_sg" in shown else "")))
    found.append(("Temperature", "aim for " + format_amount(tank.water.temperature_c, "°C", plan.units)))
    if "total_weight" in shown:
        found.append(("Weight", f"about {shown['total_weight']} when full" + (f", {shown['floor_load']} under the base" if "floor_load" in shown else "")))
    return found


def size_words(glass: Glass, units: str, gross: str) -> str:
    """`100 x 45 x 50 cm, outside volume 225 L`."""
    sides = [s for s in (glass.length_cm, glass.width_cm, glass.height_cm) if s is not None]
    words = [format_amount(s, "cm", units) for s in sides]
    unit = words[0].partition(" ")[2] if words else ""
    box = " × ".join(w.partition(" ")[0] for w in words) + f" {unit}" if len(words) == 3 else ""
    return ", ".join(w for w in (box, f"outside volume {gross}" if gross else "") if w)


def _holds(plan: Plan) -> list[Json]:
    found: dict[tuple[str, tuple[str, ...]], Json] = {}
    for hold in plan.holds:
        titles = [next((t.title for t in plan.tasks if key in (t.key, t.id) and t.state not in CLOSED), "") for key in hold.instead]
        found.setdefault((hold.because, hold.instead), {"since": short_day(hold.since, plan.on), "because": hold.because, "instead": [t for t in titles if t]})
    return list(found.values())


def _problems(plan: Plan) -> str:
    if not plan.problems:
        return ""
    files = listed(dict.fromkeys(p.place.file for p in plan.problems))
    return f"We could not read everything in {files}, so something is missing here. Have the file corrected and the plan printed again."


def _timeline(plan: Plan, unplanned: Sequence[str]) -> Json:
    days_shown = [d for p in plan.phases if p.role != "without_end" for d in (p.opened, p.window.earliest, p.window.likely, p.window.latest) if d is not None]
    span = (min(plan.on, *days_shown), max(plan.on, *days_shown)) if days_shown else None
    days = max(1, (span[1] - span[0]).days) if span else 1

    def place(day: date) -> float:
        return round(min(1.0, max(0.0, (day - span[0]).days / days)), 4) if span else 0.0

    months: list[tuple[str, float]] = []
    if span:
        day = (span[0].replace(day=1) + timedelta(days=32)).replace(day=1)
        while day <= span[1]:
            months.append((MONTHS[day.month - 1], place(day)))
            day = (day + timedelta(days=32)).replace(day=1)
    step = next(n for n in range(1, len(months) + 2) if all(b[1] - a[1] >= MONTH_ROOM for a, b in pairwise(months[::n])))
    shown = [(name, x) for name, x in months[::step] if x <= 1 - MONTH_ROOM / 2]
    return {"rows": [_timeline_row(p, plan, place, p.role.removeprefix("stocks_") in unplanned) for p in plan.phases], "today": place(plan.on), "months": shown}


def _timeline_row(phase: Phase, plan: Plan, place: Callable[[date], float], unplanned: bool) -> Json:
    row: Json = {"title": phase.title, "state": STATES[phase.state], "dates": ["", "", ""], "bar": [], "done": None}
    if phase.state == "done":
        return row | {"dates": ["", bare_day(phase.opened, plan.on) if phase.opened else "", ""], "done": place(phase.opened) if phase.opened else None}
    if phase.role == "without_end" or unplanned:
        return row | {"dates": ["", "none planned" if unplanned else "goes on", ""]}
    days = (phase.window.earliest, phase.window.likely, phase.window.latest)
    drawn = days[0] is not None and days[1] is not None
    return row | {"dates": [bare_day(d, plan.on) if d else "no date" for d in days], "bar": [place(d) if d else None for d in days] if drawn else []}


def _next(plan: Plan, rules: Rulebook, facts: Sequence[tuple[str, str]]) -> list[Json]:
    """What is late and due first, then what has a certain day, each with the amounts that do not stand above it already."""
    above = " ".join(text for _, text in facts)
    alarms = alarm_ids(plan, rules)
    urgent = sorted((t for t in plan.tasks if t.state in URGENT), key=lambda t: (t.phase not in alarms, t.state != State.LATE))
    known = {t.key for t in urgent}
    coming = [t for t, _ in next_of_each(t for t in plan.tasks if t.state not in (*CLOSED, *URGENT) and t.date is not None and t.key not in known)]
    coming.sort(key=is_provisional)
    return [{"title": t.title, "day": day_of(t, plan.on), "state": state_note(t, plan.on), "amounts": [a for a in amounts_of(t, plan.units) if a[1] not in above]}
            for t in [*urgent, *coming][:MOST_NEXT]]


def _emergency(rules: Rulebook, fill: Fill) -> list[Json]:
    """Each part from the rules' own alarms, the last from the caution about shocks."""
    alerts = {a.alert: a for a in rules.alerts}
    parts: list[tuple[str, str, list[str]]] = []
    for heading, id, task, steps in EMERGENCIES:
        rule = next((t for t in alerts[id].tasks if t.id == task), None) if id in alerts else None
        if rule is not None:
            parts.append((heading, fill(alerts[id].say), [fill(s) for s in rule.steps[:steps]]))
    if SHOCK in rules.cautions:
        caution = rules.cautions[SHOCK]
        parts.append((caution.title, "", [*re.split(r"(?<=\.) ", caution.text), caution.defer]))
    return [{"title": title, "say": say, "steps": steps, "weight": len(title) + len(say) + sum(map(len, steps)) + 30 * len(steps)} for title, say, steps in parts]


def _gates(plan: Plan) -> tuple[list[Json], list[str]]:
    """Each gate that is shut with the tests that it waits for: up to the one that lets animals in, and once that is open
    those behind it."""
    last = next((n for n, p in enumerate(plan.phases) if p.role == LAST_GATE and p.opened is None), len(plan.phases))
    found, texts = [], []
    for phase in plan.phases[: last + 1]:
        tests = [n for n in phase.needs if n.met is not Answer.YES and need_reads(n)]
        if phase.opened is None and tests:
            day = (bare_day(phase.window.likely, plan.on), True) if phase.window.likely else None
            texts += [need_words(n) for n in tests]
            found.append({"title": phase.title, "day": day, "reads": [need_text(n) for n in tests]})
    return found, texts


def _pairs(texts: Sequence[str]) -> list[tuple[str, str]]:
    """Each salinity that a gate names, as specific gravity at 25/25 °C."""
    values = sorted({float(v) for text in texts for v in _PPT.findall(text)})
    return [(f"{v:g} ppt", f"{_sg(v):.4f}") for v in values if v > 0]


@lru_cache(maxsize=64)
def _sg(salinity: float) -> float:
    return sg_from_salinity(salinity, 25.0, 25.0)


def _log(tank: Tank) -> list[tuple[str, str, int]]:
    """Headings of the sheet to write on: the reading, and the unit in which this keeper's kit shows it."""
    return [(READINGS[name].title[:1].upper() + READINGS[name].title[1:] if name != "ph" else "pH", _unit(name, tank), wide) for name, wide in LOGGED.items()]


def _unit(name: str, tank: Tank) -> str:
    if name in NITROGEN:
        kit = tank.test_kits.get(name)
        basis = kit.basis if kit else None
        return "mg/L as " + ("N" if basis == "N" else "…" if basis is None else IONS[name] if basis == "ion" else basis)
    if name == "temperature":
        return "°F" if tank.units == "us" else "°C"
    return "" if name == "ph" else READINGS[name].unit


__all__ = ["front_data", "size_words"]
