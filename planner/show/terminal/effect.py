"""What an entry did: the rows it wrote, the dates it moved, what became due, what it put on hold or set free."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from planner.files.journal import TAG
from planner.plan.milestones import open_tasks, unplanned
from planner.plan.texts import shown_amount, told_amount
from planner.plan.what_moved import what_moved
from planner.show.json.record_objects import hold_document, moved_document, problem_document, row_document
from planner.show.terminal.holdlist import alarm_notices, alarm_of
from planner.show.words.words import Line, Page, bare_day, day_words, days_words, listed, short_day, span_words
from planner.terms.problems import Problem
from planner.terms.readings import READINGS
from planner.terms.records import TASK_KINDS, URGENT, Hold, Moved, Phase, Plan, Row, Task, Window
from planner.terms.written_amounts import told_unit

SHOWN_TASKS = 4
UNTITLED: Mapping[str, str] = {}
NOT_IN_THE_WAY = "This no longer stands in the way: "
"""Before what held something: a rule that stays ("Add no animal while...") as well as an alarm that is over."""
MILESTONE_TITLES = {"ammonia_clear": "Ammonia clear", "nitrite_clear": "Nitrite clear", "cycle_done": "Filter ready"}
CYCLE_READINGS = frozenset({"ammonia", "nitrite", "nitrate"})


@dataclass(frozen=True, slots=True)
class Effect:
    """The difference that some rows made to the plan of one day."""

    written: tuple[Row, ...]
    moved: tuple[Moved, ...]
    newly_due: tuple[Task, ...]
    raised: tuple[Hold, ...]
    lifted: tuple[Hold, ...]
    opened: tuple[Phase, ...]
    shut: tuple[Phase, ...]
    water: tuple[str, str] | None = None
    """Net volume before and after, in words, where the entry changed it."""
    forecast: tuple[str, ...] = ()
    """What the entry did to the expected course of the cycle, a sentence each."""
    advice: tuple[str, ...] = ()
    """What is said of a shut gate now and was not before."""
    titles: Mapping[str, str] = field(default_factory=dict)
    """What each job is called, by its id and by its key."""
    units: str = "metric"
    """The system of the plan, for water that the planner wrote down in litres."""
    ready: tuple[Phase, ...] = ()
    """Phases whose gate has opened, and whose animals are still to come."""
    first: str = ""
    """The alarm whose job stands first on the page, whatever the entry raised: a remedy of the gravest, else a test of it."""

    def stands_first(self, hold: Hold) -> bool:
        """May what the alarm of this hold asks for be called the deed of now?"""
        return self.first in ("", alarm_of(hold))


def effect_of(before: Plan, after: Plan, written: Sequence[Row]) -> Effect:
    """Compare the plans of one day before and after the rows. Each moved date says which entry moved it, and by way of
    which gate."""
    jobs = {name: t.title for plan in (before, after) for t in plan.tasks for name in (t.key, t.id)}
    entry = entry_words(written, jobs, after.units)
    titles = {p.id: p.title for p in (*before.phases, *after.phases)}
    behind = {t.id: t.depends_on for t in (*before.tasks, *after.tasks) if t.depends_on}
    moved = tuple(
        replace(m, because=f"{entry}; it waits for the end of “{titles.get(behind[m.id], behind[m.id])}”") if m.id in behind else m
        for m in what_moved(before, after, entry))
    due_before = {t.id for t in before.tasks if t.state in URGENT and not t.tentative}  # a "maybe" of today is new once a test has called it
    newly_due = tuple(t for t in after.tasks if t.state in URGENT and not t.tentative and t.id not in due_before)
    gravest = {alert: place for place, alert in enumerate(alarm_notices(after))}  # they stand there by what kills sooner
    held, holds = {(h.gate, h.because) for h in before.holds}, {(h.gate, h.because) for h in after.holds}
    open_before, open_after = ({p.id for p in plan.phases if p.opened is not None} for plan in (before, after))
    opened = [p for p in after.phases if p.id in open_after - open_before and not unplanned(p, after)]
    coming = {t.phase for t in open_tasks(after) if t.animals}
    asking = [t for t in after.tasks if t.phase in gravest and t.state in URGENT and not t.tentative]
    first = min(asking, key=lambda t: (t.role != "remedy", gravest[t.phase]), default=None)
    return Effect(
        tuple(written), moved, newly_due,
        tuple(sorted((h for h in after.holds if (h.gate, h.because) not in held), key=lambda h: gravest.get(alarm_of(h), len(gravest)))), tuple(h for h in before.holds if (h.gate, h.because) not in holds),
        tuple(p for p in opened if p.id not in coming), tuple(p for p in after.phases if p.id in open_before - open_after),
        _water_change(before, after), tuple(_forecast_moved(before, after, written)), _new_advice(before, after), jobs, after.units, tuple(p for p in opened if p.id in coming), first.phase if first is not None else "")


def _forecast_moved(before: Plan, after: Plan, written: Sequence[Row]) -> list[str]:
    """One sentence for each milestone of the cycle that the entry brought, moved or narrowed, and one for readings that
    nothing explains. A reading of the cycle that moved nothing says so, unless no day is known at all: a stocked reef waits for none."""
    said, kept = [], []
    entry = "reading" if any(r.kind == "reading" for r in written) and all(r.kind in ("reading", "done") for r in written) else "entry"
    for name, title in MILESTONE_TITLES.items():
        old, new = before.forecast.events.get(name), after.forecast.events.get(name)
        if old is None or new is None or (old.happened and new.happened):
            continue
        expected, now = _window_words(old.window, after.on), _window_words(new.window, after.on)
        if new.happened:
            said.append(f"{title}: read on {bare_day(new.happened, after.on)}" + (f"; before this {entry} it was expected {expected}." if old.window.likely else "."))
        elif old.happened:
            said.append(f"{title}: no longer so. It is expected {now}.")
        elif old.window == new.window:
            kept += [f"{title[:1].lower()}{title[1:]} is expected {expected}"] if old.window.likely else []
        else:
            said.append(f"{title}: now expected {now}; before this {entry} {_window_words(old.window, after.on, about=False)}.")
    lines = {r.line for r in written}
    said += [f"{row_words(r)[:1].upper()}{row_words(r)[1:]} does not fit what a tank like this can do. Check the kit and the dose, and test again." for r in after.forecast.unexplained if r.line in lines]
    if not said and kept and any(r.kind == "reading" and r.what in CYCLE_READINGS and r.where == "display" for r in written):
        return [f"This reading moves nothing: {kept[0]}."]
    return said


def _window_words(window: Window, on: date, about: bool = True) -> str:
    """`about 12 Mar (8 to 20 Mar)`."""
    if window.likely is None:
        return "beyond the forecast"
    likely = f"{'about ' if about else ''}{bare_day(window.likely, on)}"
    if window.earliest is None or window.earliest == window.likely == window.latest:
        return likely
    return f"{likely} ({span_words(window, on=on) if window.latest is not None else f'{bare_day(window.earliest, on)} to a later month'})"


def _new_advice(before: Plan, after: Plan) -> tuple[str, ...]:
    known = {line for p in before.phases for line in p.advice} | set(after.forecast.capacity)
    return tuple(line for p in after.phases if p.opened is None for line in p.advice if line not in known)


def _water_change(before: Plan, after: Plan) -> tuple[str, str] | None:
    old, new = (plan.quantity("net_volume") for plan in (before, after))
    if old is None or new is None or old.value == new.value:
        return None
    told = (told_amount(old, after.units), told_amount(new, after.units))
    return told if told[0] != told[1] else None


def row_words(row: Row, titles: Mapping[str, str] = UNTITLED, units: str = "metric") -> str:
    """One row in words, without its time: `ammonia 0.25 mg/L as N`, `ticked “Watch the full tank for 48 h”`. Of an undo row: what
    it takes back."""
    def job(name: str) -> str:
        title = titles.get(name) or titles.get(name.partition("#")[0])
        return f"“{title}”" if title else name

    kind, _, what = row.what.partition(":") if row.kind == "undo" else (row.kind, "", row.what)
    amount = shown_amount(row.low, "L", units) if units == "us" and row.unit == "L" and row.low is not None else f"{row.value} {told_unit(what, row.unit)}".strip()
    words = {
        "done": f"ticked {job(what)}", "skipped": f"left out {job(what)}", "postponed": f"put off {job(what)} to {row.value}",
        "reading": f"{READINGS[what].title if what in READINGS else what} {amount}", "event": f"{what.replace('_', ' ')} {amount}".strip(),
        "changed_water": f"{amount} of water changed", "poured": f"{amount} of {what or 'water'} poured in",
    }.get(kind) or f"{what} {kind}{' ' + amount if amount else ''}"
    if kind == "event" and what == "failed":
        words = f"failed: {job(TAG.sub('', row.note).strip())}"
    return words


def entry_words(rows: Sequence[Row], titles: Mapping[str, str] = UNTITLED, units: str = "metric") -> str:
    """All rows of one entry in words."""
    told = listed(row_words(r, titles, units) for r in rows)
    return f"took back: {told}" if rows and all(r.kind == "undo" for r in rows) else told


def effect_lines(effect: Effect, plan: Plan, width: int) -> tuple[Line, ...]:
    """The effect on a terminal: one line for what was written, then what it means, the weightiest first."""
    page = Page(width)
    page.labelled("written", written_words(effect.written, effect.titles, effect.units), role="strong")
    _raised(page, effect, plan)
    for phase in effect.shut:
        page.labelled("open again", f"“{phase.title}” is no longer finished", role="strong")
    for phase in effect.opened:
        page.labelled("finished", f"“{phase.title}”", role="strong")
    for phase in effect.ready:
        page.labelled("ready for", f"what is still to come of “{phase.title}”", role="strong")
    for because, holds in _by_reason(effect.lifted).items():
        page.labelled("goes on", f"{'; '.join(_title(plan, h.gate) for h in holds)}. {NOT_IN_THE_WAY}{because}")
    if effect.water is not None:
        page.labelled("water", f"the tank counts as {effect.water[1]} now, not {effect.water[0]}; every dose follows", role="strong")
    for n, text in enumerate(effect.forecast):
        page.labelled("forecast" if n == 0 else "", text)
    for n, text in enumerate(effect.advice):
        page.labelled("advice" if n == 0 else "", text, role="strong")
    _moved(page, effect, plan)
    for n, task in enumerate(effect.newly_due):
        page.labelled("now due" if n == 0 else "", task.title)
    return tuple(page.lines)


def _by_reason(holds: Sequence[Hold]) -> dict[str, list[Hold]]:
    found: dict[str, list[Hold]] = {}
    for hold in holds:
        found.setdefault(hold.because, []).append(hold)
    return found


def _raised(page: Page, effect: Effect, plan: Plan) -> None:
    """What is held now: each reason once, with all that it holds and what to do instead."""
    for because, holds in _by_reason(effect.raised).items():
        if holds[0].do:
            page.labelled("DO NOW" if effect.stands_first(holds[0]) else "ALARM", holds[0].do, role="strong", label_role="alarm")
        page.labelled("ON HOLD", f"{because} This holds: {'; '.join(_title(plan, h.gate) for h in holds)}.", role="strong", label_role="strong")
        for n, key in enumerate(dict.fromkeys(key for h in holds for key in h.instead)):
            task = next((t for t in plan.tasks if key in (t.key, t.id) and t.state in URGENT), None) or next((t for t in plan.tasks if key in (t.key, t.id)), None)
            page.labelled("  instead" if n == 0 else "", task.title if task else key, column=12)


def written_words(rows: Sequence[Row], titles: Mapping[str, str] = UNTITLED, units: str = "metric") -> str:
    """All rows in one sentence, with their water and time where they share them."""
    waters = list(dict.fromkeys(_water(r) for r in rows if r.kind not in TASK_KINDS and r.what.partition(":")[0] not in TASK_KINDS))
    times = list(dict.fromkeys((r.day, r.at) for r in rows))
    told = entry_words(rows, titles, units) if len(waters) < 2 else listed(f"{row_words(r, titles, units)} ({_water(r)})" for r in rows)
    where = f" ({waters[0]} water)" if len(waters) == 1 else ""
    day, at = times[0]
    when = f", {day_words(day)}{at.strftime(' %H:%M') if at else ''}" if len(times) == 1 else ""
    return f"{told}{where}{when}"


def _water(row: Row) -> str:
    return "tank" if row.where == "display" else row.where


def _moved(page: Page, effect: Effect, plan: Plan) -> None:
    """How many dates by how many days, then every gate and the next few tasks with both dates and the reason."""
    if not effect.moved:
        page.labelled("moved", "no date")
        return
    shifts = Counter(m.days for m in effect.moved if m.days)
    groups = [f"{n} {'date' if n == 1 else 'dates'} {days_words(abs(d))} {'later' if d > 0 else 'sooner'}" for d, n in sorted(shifts.items(), key=lambda s: (-s[1], s[0])) if d]
    ticked = {r.what.partition("#")[0] for r in effect.written if r.kind in ("done", "skipped")}
    again = {m.id for m in effect.moved if m.before is None and m.id.partition("#")[0] in ticked}
    new, gone = sum(m.before is None and m.id not in again for m in effect.moved), sum(m.after is None for m in effect.moved)
    groups += [f"{new} new on the plan"] if new else []
    groups += [f"{gone} gone from the plan"] if gone else []
    page.labelled("moved", (listed(groups[:4]) or "no date") + (f", and {len(groups) - 4} other shifts" if len(groups) > 4 else ""))
    endless = plan.phase_as("without_end")
    gates = [m for m in effect.moved if m.of_gate and (endless is None or m.id != f"gate/{endless.id}")]
    tasks = [m for m in effect.moved if not m.of_gate][:SHOWN_TASKS]
    shown = gates + tasks
    for moved in shown:
        before = short_day(moved.before, plan.on) if moved.before else "no date"
        after = short_day(moved.after, plan.on) if moved.after else "no date"
        title = f"End of “{moved.title}”" if moved.of_gate else moved.title
        page.item("-", f"{title}: " + (f"again on {after}" if moved.id in again else f"new, {after}" if moved.before is None else f"{before} to {after}"), indent=2)
    page.labelled("because", entry_words(effect.written, effect.titles, effect.units), 2)


def _title(plan: Plan, gate: str) -> str:
    phase = plan.phase(gate)
    return phase.title if phase else gate


def effect_document(effect: Effect, warnings: Sequence[str] = (), problems: Sequence[Problem] = ()) -> dict[str, Any]:
    """The machine form: `written` rows, `moved` dates, what became due, held, free, open or shut, and the files' problems."""
    return {
        "written": [row_document(r) for r in effect.written], "moved": moved_document(effect.moved), "newly_due": [t.id for t in effect.newly_due],
        "holds_raised": [hold_document(h) for h in effect.raised], "holds_lifted": [hold_document(h) for h in effect.lifted],
        "forecast": list(effect.forecast), "advice": list(effect.advice),
        "gates_opened": [p.id for p in (*effect.opened, *effect.ready)], "gates_shut": [p.id for p in effect.shut], "warnings": list(warnings),
        "problems": [problem_document(p) for p in problems],
    }


__all__ = ["NOT_IN_THE_WAY", "Effect", "effect_document", "effect_lines", "effect_of", "entry_words", "row_words", "written_words"]
