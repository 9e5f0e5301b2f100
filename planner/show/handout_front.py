"""The front sheet of the printed plan, two sides: whose tank, when, what next, what opens the gates, and what to do when it goes wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from functools import lru_cache

from planner.model import Answer, Phase, Plan, State
from planner.plan import shown_amount
from planner.quantities import NITROGEN, READINGS, format_amount
from planner.rulebook import Rulebook
from planner.show.agenda import CLOSED, URGENT, alarm_ids, next_of_each
from planner.show.fields import Json
from planner.show.handout_days import amounts_of, need_text, state_note
from planner.show.handout_text import day_of
from planner.show.timeline import STATES
from planner.show.words import MONTHS, bare_day, day_words, listed, short_day
from planner.tankfile import Glass, Tank
from planner.water import sg_from_salinity

Fill = Callable[[str], str]

LAST_GATE = "animals"
"""Gates behind this one stand with their phases; the table of the front sheet ends with the one that lets life in."""
EMERGENCIES = (("Water on the floor", "leak", "stop", 3), ("Power cut, animals in", "power-cut-stocked", "air", 3), ("Animals gasp, or ammonia shows", "ammonia-three", "change", 4))
"""Heading, alert, its task, and how many of its steps the strip has room for."""
SHOCK = "shock"
MOST_NEXT = 20
MONTH_ROOM = 0.18
"""Share of the time line that the name of a month takes."""
LOGGED = {"ammonia": 22, "nitrite": 22, "nitrate": 22, "salinity": 15, "temperature": 21, "ph": 13, "alkalinity": 17}
"""Readings that have a column on the sheet to write on, each with its width in mm."""
IONS = {"ammonia": "NH4", "nitrite": "NO2", "nitrate": "NO3"}
_TESTED = re.compile("|".join(rf"\b{re.escape(word)}\b" for r in READINGS.values() for word in (r.title.split(" (")[0], r.title.split(" (")[0].capitalize())))
_PPT = re.compile(r"(\d+(?:\.\d+)?)\s*ppt")


def front_data(plan: Plan, tank: Tank, rules: Rulebook, fill: Fill) -> Json:
    """Everything on the two sides but the letterhead. `fill` puts this tank's figures into rule texts."""
    gates, readings = _gates(plan)
    return {
        "day": day_words(plan.on), "facts": _facts(plan, tank), "holds": _holds(plan), "problems": _problems(plan), "timeline": _timeline(plan), "next": _next(plan, rules),
        "emergency": _emergency(rules, fill), "gates": gates, "pairs": _pairs(readings), "log": _log(tank),
        "cautions": [(c.title, c.defer) for c in rules.cautions.values()],
    }


def _facts(plan: Plan, tank: Tank) -> list[tuple[str, str]]:
    shown = {q.name: shown_amount(q.value, q.unit, plan.units) for q in plan.quantities}
    found = [("Size", size_words(tank.tank, plan.units, shown.get("gross_volume", "")))]
    if "net_volume" in shown:
        found.append(("Water in it", f"{shown['net_volume']} net, the figure for every dose"))
    if "target_salinity" in shown:
        found.append(("Salinity", f"aim for {shown['target_salinity']}" + (f", that is {shown['target_sg']}" if "target_sg" in shown else "")))
    found.append(("Temperature", "aim for " + format_amount(tank.water.temperature_c, "°C", plan.units)))
    if "total_weight" in shown:
        found.append(("Weight", f"about {shown['total_weight']} when full" + (f", {shown['floor_load']} under the base" if "floor_load" in shown else "")))
    return found


def size_words(glass: Glass, units: str, gross: str) -> str:
    """`100 x 45 x 50 cm, sold as 225 L`."""
    sides = [s for s in (glass.length_cm, glass.width_cm, glass.height_cm) if s is not None]
    words = [format_amount(s, "cm", units) for s in sides]
    unit = words[0].partition(" ")[2] if words else ""
    box = " × ".join(w.partition(" ")[0] for w in words) + f" {unit}" if len(words) == 3 else ""
    return ", ".join(w for w in (box, f"sold as {gross}" if gross else "") if w)


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
    return f"Not everything in {files} could be read; what it concerns is missing here. Have the file mended and the plan printed again."


def _timeline(plan: Plan) -> Json:
    days_shown = [d for p in plan.phases if p.id != "care" for d in (p.opened, p.window.earliest, p.window.likely, p.window.latest) if d is not None]
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
    shown: list[tuple[str, float]] = []
    for name, x in months:
        if x <= 1 - MONTH_ROOM and x >= (shown[-1][1] + MONTH_ROOM if shown else 0.0):
            shown.append((name, x))
    return {"rows": [_timeline_row(p, plan, place) for p in plan.phases], "today": place(plan.on), "months": shown}


def _timeline_row(phase: Phase, plan: Plan, place: Callable[[date], float]) -> Json:
    row: Json = {"title": phase.title, "state": STATES[phase.state], "dates": ["", "", ""], "bar": [], "done": None}
    if phase.state == "done":
        return row | {"dates": ["", bare_day(phase.opened, plan.on) if phase.opened else "", ""], "done": place(phase.opened) if phase.opened else None}
    if phase.id == "care":
        return row | {"dates": ["", "goes on", ""]}
    days = (phase.window.earliest, phase.window.likely, phase.window.latest)
    drawn = days[0] is not None and days[1] is not None
    return row | {"dates": [bare_day(d, plan.on) if d else "no date" for d in days], "bar": [place(d) if d else None for d in days] if drawn else []}


def _next(plan: Plan, rules: Rulebook) -> list[Json]:
    alarms = alarm_ids(plan, rules)
    urgent = sorted((t for t in plan.tasks if t.state in URGENT), key=lambda t: (t.phase not in alarms, t.state != State.LATE))
    known = {t.key for t in urgent}
    coming = [t for t, _ in next_of_each(t for t in plan.tasks if t.state not in (*CLOSED, *URGENT) and t.date is not None and t.key not in known)]
    return [{"title": t.title, "day": day_of(t, plan.on), "state": state_note(t, plan.on), "amounts": amounts_of(t, plan.units)} for t in [*urgent, *coming][:MOST_NEXT]]


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
    last = next((n for n, p in enumerate(plan.phases) if p.id == LAST_GATE and p.opened is None), len(plan.phases))
    found, texts = [], []
    for phase in plan.phases[: last + 1]:
        tests = [n for n in phase.needs if n.met is not Answer.YES and _TESTED.search(n.text)]
        if phase.opened is None and tests:
            day = (bare_day(phase.window.likely, plan.on), True) if phase.window.likely else None
            texts += [n.text for n in tests]
            found.append({"title": phase.title, "day": day, "reads": [need_text(n.text) for n in tests]})
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
