"""The readings as tables: every test with its change, the trend, and the limits of the plan beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, NamedTuple

from planner.files.journal import TAG
from planner.judge.evidence import kit_step
from planner.judge.facts import animals_in
from planner.judge.kinds import reading
from planner.judge.scene import Scene
from planner.rulebook.kinds.animal import AnimalNode
from planner.rulebook.kinds.done import DoneNode
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.nodes import Condition
from planner.rulebook.shapes import AlertRule
from planner.rulebook.task_rule import TaskRule
from planner.rulebook.walk import asked_for, ways_to_meet
from planner.rulebook.words import Word
from planner.science.use import Sample, fit_use
from planner.show.json.record_objects import row_document
from planner.show.terminal.chart import Scale, scale_of
from planner.show.terminal.taskcard import MOST_TERMS
from planner.show.words.conditions import bounds_words, limit_words
from planner.show.words.explained_terms import Glossary
from planner.show.words.words import Line, Page, Span, command, day_words, days_words, short_day, uncapped, wrap
from planner.terms.amounts import format_amount, format_bare, listed
from planner.terms.readings import READINGS
from planner.terms.records import Answer, Plan, Row
from planner.terms.written_amounts import NITROGEN

SHOWN_ROWS = 10
KIT_ERROR = 0.3
"""Standard error of a reading as a share of its kit's step: half a step of rounding, which is a uniform law (step / root 12)."""
MET = {Answer.YES: "met", Answer.NO: "not yet", Answer.UNKNOWN: "not yet"}


@dataclass(frozen=True, slots=True)
class Limit:
    """What the plan asks of a reading: the sentence, the gate that asks and whether it is met; or, `met` being None, what to do where it
    raises an alarm."""

    text: str
    asks: str
    met: Answer | None


@dataclass(frozen=True, slots=True)
class Series:
    """All readings of one kind in one water, oldest first. `unit`: how the keeper's kit counts, `factor` of it in each of ours."""

    name: str
    where: str
    unit: str
    factor: float
    rows: tuple[Row, ...]
    limits: tuple[Limit, ...]
    trend: str


def reading_series(plan: Plan, scene: Scene, only: Sequence[str] = ()) -> tuple[Series, ...]:
    """A series for each reading and water that the journal has, in the order of the dictionary of readings."""
    found = []
    for name, kind in READINGS.items():
        if only and name not in only:
            continue
        rows = scene.facts.rows("reading", name)
        for where in dict.fromkeys(sorted({r.where for r in rows}, key=lambda w: (w != "display", w))):
            here = tuple(r for r in rows if r.where == where and r.low is not None)
            if here:
                scale = scale_of(name, scene.facts.tank, scene.rules) if name in NITROGEN else Scale(unit=kind.unit)
                trend = trend_words(here, kit_step(name, scene.facts.tank, scene.rules), plan.units, scale)
                found.append(Series(name, where, scale.unit, scale.factor, here, _limits(name, where, plan, scene), trend))
    return tuple(found)


def readings_lines(plan: Plan, series: Sequence[Series], width: int, all_rows: bool = False, words: Mapping[str, Word] | None = None,
                   charts: Mapping[tuple[str, str], Sequence[str]] | None = None, folder: str = "") -> tuple[Line, ...]:
    """A table for each series, below its chart where there is one."""
    page, glossary = Page(width), Glossary(words or {})
    page.heading(f"Readings of {plan.name}", day_words(plan.on))
    if not series:
        page.say(f"The journal has no reading yet. `{command('log', folder, 'ammonia=0 nitrite=0')}` writes one.")
    for one in series:
        drawn = (charts or {}).get((one.name, one.where), ())
        if drawn:  # has its own heading
            page.gap()
        else:
            page.heading(READINGS[one.name].title + ("" if one.where == "display" else f" in the {one.where} water"))
        page.lines += [(Span(line),) for line in (*drawn, *([""] if drawn else []))]
        shown = one.rows if all_rows else one.rows[-SHOWN_ROWS:]
        if len(shown) < len(one.rows):
            page.say(f"{len(one.rows) - len(shown)} older readings; --all shows them.", "soft")
        page.lines.append((Span(f"  {'when':<24}{'reading':<22}{'change':<16}as written", "soft"),))
        before: Row | None = one.rows[-len(shown) - 1] if len(shown) < len(one.rows) else None
        for row in shown:
            when = short_day(row.day, plan.on) + (f" {row.at:%H:%M}" if row.at else "")
            written = f"{row.value} {row.unit}".strip() + (f" ({note})" if (note := TAG.sub("", row.note).strip()) else "")
            for n, line in enumerate(wrap(f"{when:<24}", width, "  ")):
                if n == 0:
                    text = f"{line:<26}{value_words(row, one.unit, plan.units, one.factor):<22}{_change(before, row, one, plan.units):<16}"
                    first, *more = wrap(written, max(width, len(text) + 14), " " * len(text)) if len(text) + 14 <= width else [text, *wrap(written, width, "      ")]
                    page.lines.append((Span((text + first[len(text):]).rstrip()),))
                    page.lines += [(Span(m),) for m in more]
            before = row
        page.labelled("trend", one.trend, 2)
        for n, limit in enumerate(one.limits):
            page.labelled("limits" if n == 0 else "", limit.text + (f": {limit.asks}" if limit.met is None else f", to end {_ended(plan, limit.asks)}: {MET[limit.met]}"), 2)
        glossary.hear(one.unit, READINGS[one.name].title, *(limit.text for limit in one.limits))
    page.gap()
    del glossary.waiting[MOST_TERMS:]
    glossary.explain(page)
    return tuple(page.lines)


def _ended(plan: Plan, gate: str) -> str:
    """The phase that a gate ends, by its title."""
    phase = plan.phase(gate.removeprefix("gate/"))
    return f"“{phase.title}”" if phase is not None else gate


def readings_document(plan: Plan, series: Sequence[Series]) -> dict[str, Any]:
    """The same as one object; `low` and `high` bound each value in `unit` (high null: off the scale)."""
    return {"on": plan.on.isoformat(), "readings": [
        {"name": s.name, "where": s.where, "unit": READINGS[s.name].unit, "trend": s.trend, "limits": [f"{limit.text} ({limit.asks})" if limit.met is not None else f"{limit.text}: {limit.asks}" for limit in s.limits],
         "rows": [{**row_document(r), "low": r.low, "high": None if r.high is None or math.isinf(r.high) else r.high} for r in s.rows]}
        for s in series]}


def value_words(row: Row, unit: str, units: str, factor: float = 1.0) -> str:
    """A reading in the unit of the keeper's kit, else in the buyer's units; `over` and `under` where the kit's scale ended."""
    low, high = (row.low or 0.0) * factor, (row.high if row.high is not None else row.low or 0.0) * factor
    if math.isinf(high):
        return f"over {format_amount(low, unit, units)}"
    return format_amount(high, unit, units) if low == high else f"under {format_amount(high, unit, units)}"


def trend_words(rows: Sequence[Row], step: float, units: str, scale: Scale) -> str:
    """How the last readings run, judged against the kit's own step: a change below it is no change."""
    exact = [r for r in rows if r.low is not None and r.low == r.high]
    if len(exact) < 2:
        return "one reading alone shows none" if len(rows) < 2 else "readings off the kit's scale show none"
    last = exact[-1]
    back = [r for r in exact[:-1] if last.day - r.day <= timedelta(days=14)] or exact[-2:-1]
    first = back[-3] if len(back) >= 3 else back[0]
    change, days = (last.low or 0.0) - (first.low or 0.0), (last.day - first.day).days
    span = f"over {days_words(days)}" if days else "within the day"
    if not math.isfinite(step) and abs(change) > 1e-9:  # nobody knows the kit's step, so the figures speak for themselves
        step = 0.0
    if abs(change) < step * 0.999 or abs(change) <= 1e-9:
        return _slow_trend(exact, step, units, scale) or f"level {span}" + (" (no change beyond the test's own step)" if abs(change) > 1e-9 else "")
    return f"{'rising' if change > 0 else 'falling'} by {_difference(abs(change) * scale.factor, scale.unit, units)} {span}"


def _slow_trend(rows: Sequence[Row], step: float, units: str, scale: Scale) -> str:
    """A drift too small for any two readings, which many of four weeks show together; "" if they do not, or if nothing is known of
    the kit's step."""
    if not math.isfinite(step):
        return ""
    lately = [r for r in rows if rows[-1].day - r.day <= timedelta(days=28)]
    fit = fit_use([Sample(r.day.toordinal(), r.low or 0.0, step * KIT_ERROR) for r in lately]) if len(lately) >= 3 else None
    if fit is None or abs(fit.use) <= 2 * fit.use_se:
        return ""
    return f"{'falling' if fit.use > 0 else 'rising'} slowly, by about {_difference(abs(fit.use) * 7 * scale.factor, scale.unit, units)} a week over {days_words(round(fit.span))}"


def _change(before: Row | None, row: Row, one: Series, units: str) -> str:
    if before is None or before.low is None or row.low is None or before.low != before.high or row.low != row.high:
        return ""
    change = row.low - before.low
    moved = _difference(abs(change) * one.factor, one.unit, units)
    return "same" if abs(change) < 1e-9 else f"{'up' if change > 0 else 'down'} {moved.partition(' ')[0] if one.unit.startswith('mg/L') else moved}"


def _difference(value: float, unit: str, units: str) -> str:
    """A difference: in °F a degree is counted without the zero point."""
    if unit == "°C":
        return f"{value * 1.8:.1f} °F" if units == "us" else f"{value:.1f} °C"
    return format_bare(value, unit, units)


def _limits(name: str, where: str, plan: Plan, scene: Scene) -> tuple[Limit, ...]:
    """What the gates now waited for ask of this reading (else the next gate that will), and from where on an alarm asks for what."""
    rules = scene.rules
    asked: list[Limit] = []
    ahead: list[Limit] = []
    for phase in plan.phases:
        if phase.opened is not None:
            continue
        now = phase.started is not None and phase.started <= plan.on
        for node in _nodes(rules.phase(phase.id).gate.opens_when):
            if node.name == name and node.where == where:
                (asked if now else ahead).append(Limit(bounds_words(reading.asked(node, scene)), f"gate/{phase.id}", reading.answer(node, scene).answer))
    raised = [(alarm, uncapped(_first_order(alert))) for alert in rules.alerts for alarm in _alarms(alert.when, name, where, scene)]
    plain = {(alarm.bounds, act) for alarm, act in raised if not alarm.more}
    begun = {act: min(alarm.at for alarm, a in raised if a == act and alarm.endless and not alarm.more) for act in {a for alarm, a in raised if alarm.endless and not alarm.more}}
    ways: dict[str, list[str]] = {}
    for alarm, act in sorted(raised, key=lambda found: found[0].at):
        if alarm.at >= begun.get(act, math.inf) and not (alarm.endless and not alarm.more and alarm.at == begun[act]):
            continue  # the same is asked for from there on
        if not alarm.more or (alarm.bounds, act) not in plain:  # what more one of two asks for the same is no news
            ways.setdefault(alarm.bounds + alarm.more, []).append(act)
    # Several orders for the same reading differ by what else holds; the page of the day says which one it is.
    alarms = (Limit(text, f"{listed(dict.fromkeys(acts), 'or')}{', as the page of the day says' if len(set(acts)) > 1 else ''}", None) for text, acts in ways.items())
    return tuple(dict.fromkeys([*(asked or ahead[:1]), *alarms]))


def _first_order(alert: AlertRule) -> str:
    """What an alarm asks for first whatever else holds, in a few words. What asks for more only before its next time is asked for at first."""
    def at_first(task: TaskRule) -> bool:
        own = f"{alert.alert}/{task.id}"
        return task.when is None or any(all(negated and isinstance(leaf, DoneNode) and leaf.task == own for leaf, negated in way) for way in ways_to_meet(task.when))

    task = next((t for t in alert.tasks if at_first(t)), None) or next(iter(alert.tasks), None)
    return (task.short if task is not None else "") or alert.title


class Alarm(NamedTuple):
    """Where an alarm begins: `from 0.5 mg/L as N`, and what `more` it asks for. `endless`: nothing above takes it over."""

    at: float
    bounds: str
    more: str
    endless: bool


def _alarms(condition: Condition, name: str, where: str, scene: Scene) -> Iterator[Alarm]:
    """Each way in which this reading raises an alarm now: one for animals only while there are any."""
    stocked = bool(animals_in(scene.facts, where))
    for way in ways_to_meet(condition):
        mine = [(node, negated) for node, negated in way if isinstance(node, ReadingNode) and node.name == name and node.where == where]
        rest = [leaf for leaf, _ in way if not isinstance(leaf, AnimalNode) and not (isinstance(leaf, ReadingNode) and leaf.name == name)]
        limited = any(node.above or node.below or node.at_least or node.at_most for node, _ in mine)
        if not mine or (rest and not limited) or any((node, not negated) in mine for node, negated in mine):
            continue  # clear or not beside something else: that alarm is not this reading's
        if any(negated == stocked for node, negated in way if isinstance(node, AnimalNode) and node.where == where):
            continue
        told = [(reading.asked(node, scene), negated) for node, negated in mine]
        unclear = any(negated and node.clear for node, negated in mine)
        said = _bounds(told, unclear) or (["any above clear"] if unclear else []) or [_unlike(asked) if negated else bounds_words(asked) for asked, negated in told]
        at = min((limit.value for asked, _ in told for limit in (asked.at_least, asked.above, asked.at_most, asked.below) if limit), default=0.0)
        often = next((f" on {asked.times} days" for asked, negated in told if asked.times > 1 and not negated and (asked.at_least or asked.above)), "")
        yield Alarm(at, " and ".join(dict.fromkeys(said)), often + (", as at 35 ppt" if any(asked.at_35 for asked, _ in told) else "") + (", in some cases" if rest else ""),
                    any(asked.at_least or asked.above for asked, negated in told if not negated) and not any(asked.at_most or asked.below for asked, _ in told))


def _bounds(told: Sequence[tuple[reading.ReadingAsked, bool]], unclear: bool) -> list[str]:
    """Where an alarm begins and where the next one takes over: `0.23 to 0.61 mg/L as NH3`; nothing where no lower bound is
    asked for, or where what is asked against is more than the kit's own zero."""
    lows = [(asked, limit) for asked, negated in told if not negated and (limit := asked.at_least or asked.above)]
    highs = [(asked, limit) for asked, negated in told if not negated and (limit := asked.at_most or asked.below)]
    if any(negated and not asked.clear for asked, negated in told) or not (lows or unclear):
        return []
    if not lows:
        return [f"any below {limit_words(*high)}" for high in highs] or ["any above clear"]
    asked, limit = lows[0]
    if asked.free:
        return [f"free NH3 from {limit.value:g} mg/L"]
    if highs:
        return [f"{limit_words(asked, limit, number=True)} to {limit_words(*highs[0])}"]
    return [f"{'from' if asked.at_least else 'above'} {limit_words(asked, limit)}"]


def _unlike(asked: reading.ReadingAsked) -> str:
    """What a reading shows that is not as asked."""
    if asked.at_least or asked.at_most or asked.clear:
        return " or ".join(f"{word} {limit_words(asked, limit)}" for word, limit in (("below", asked.at_least), ("above", asked.at_most)) if limit) or "any above clear"
    return f"not {bounds_words(asked)}"


def _nodes(condition: Condition) -> Iterator[ReadingNode]:
    """The readings a condition asks for; not those it asks against."""
    return (node for node in asked_for(condition) if isinstance(node, ReadingNode))
