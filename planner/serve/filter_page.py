"""The filter: the expected course of the cycle with own points; and every reading with its trend, chart and table."""

from __future__ import annotations

from starlette.responses import Response

from planner.judge.facts import gather
from planner.judge.plausible import believed
from planner.judge.scene import Scene
from planner.serve.asking import Ask
from planner.serve.markup import html, writer_for
from planner.serve.svg_chart import cycle_chart, reading_chart
from planner.show.terminal.readings_table import MET, reading_series, value_words
from planner.show.words.words import short_day
from planner.terms.readings import READINGS
from planner.terms.row_words import in_words

SHOWN_ROWS = 12


def filter(ask: Ask) -> Response:  # noqa: A001  (its address)
    seen = ask.look()
    read, tank = seen.folder, seen.tank
    write_text = writer_for(seen, ask.base)
    with seen.lock:
        plan = seen.plan
        scene = Scene(gather(tank, believed(tank, read.journal, read.rules, read.on), read.on), read.rules, {})
        series = reading_series(plan, scene)
    charts = [made for name in ("ammonia", "nitrite") if (made := cycle_chart(name, plan, [r for r in read.journal.of("reading", name, read.on) if r.where == "display"], tank, read.rules)) is not None]
    tables = []
    for one in series:
        rows = [(short_day(r.day, plan.on) + (f" {r.at:%H:%M}" if r.at else ""), value_words(r, one.unit, plan.units, one.factor), in_words(f"{r.value} {r.unit}".strip())) for r in reversed(one.rows[-SHOWN_ROWS:])]
        limits = [html(f"{limit.text}: {limit.asks if limit.met is None else MET[limit.met]}") for limit in one.limits]
        title = READINGS[one.name].title + ("" if one.where == "display" else f", {one.where} water")
        tables.append((f"{title[:1].upper()}{title[1:]}" if one.name != "ph" else title, f"{one.trend[:1].upper()}{one.trend[1:]}", reading_chart(one.rows, plan.on, tank, read.rules), rows, limits))
    return ask.show("filter.html", active="filter", tank_name=plan.name, charts=charts, fed="cycle_done" in plan.forecast.events and plan.forecast.events["cycle_done"].happened is None, sentences=[write_text.html(s) for s in plan.forecast.sentences], tables=tables)


__all__ = ["filter"]
