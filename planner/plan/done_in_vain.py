"""An order that was done over and over while its reading stood still: a remedy gives way to looking for the cause, one
against what kills soon goes on and says so, and the test of an alarm that is milder or acts slowly comes less often."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import timedelta

from planner.judge.evidence import kit_sd, kit_step
from planner.plan.dues import Due, closings
from planner.plan.orders import Order, Orders
from planner.rulebook.kinds.reading import ReadingNode
from planner.rulebook.shapes import AlertRule, Treadmill
from planner.rulebook.walk import asked_for
from planner.rulebook.what_jobs_do import NEVER_CAPPED
from planner.terms.records import Yielded
from planner.terms.traces import Repetitions
from planner.terms.written_amounts import NITROGEN, nitrogen_factor

A_LITTLE = 1e-6
ERRORS = 2.0
"""Standard errors within which two readings are the same (engine's own)."""


def leave_treadmills(orders: Orders) -> None:
    """Remedies and tests of today that were done so often in vain."""
    treadmill = orders.rules.treadmill
    if treadmill is None:
        return
    times = round(orders.rules.number(treadmill.times))
    milder = {alert.alert for alert in orders.rules.alerts if not alert.is_grave or _acts_slowly(alert, orders)}
    for order in orders.all:
        if order.due.rule.role == "test" and order.due.rule.every is not None and order.due.phase in milder and not order.acts and orders.is_today(order):
            _test_less_often(order, times, treadmill, orders)
        if order.due.rule.role != "remedy" or not orders.is_today(order):
            continue
        stood = next((name for name in _readings(order.due, orders) if _stood_still(name, order, times, orders)), None)
        if stood is None:
            continue
        order.yielded.append(Yielded("in_vain", what=(stood,), hours=times))
        if order.rank not in NEVER_CAPPED:
            order.acts.clear()
            order.due = replace(order.due, in_vain=True)


def _acts_slowly(alert: AlertRule, orders: Orders) -> bool:
    """Does an alarm let days pass between its own remedies? What kills soon is acted on every day."""
    every = [task.every for task in alert.tasks if task.role == "remedy"]
    return bool(every) and all(e is not None and orders.rules.days(e) > 1 for e in every)


def _test_less_often(order: Order, times: int, treadmill: Treadmill, orders: Orders) -> None:
    """So many tests that show no difference that means anything: the next one tells more after some days than tomorrow."""
    rule = order.due.rule
    done = [row for _, row in closings(order.due.key, orders.facts) if row.kind == "done"][-times:]
    if len(done) < times or (order.due.trace is not None and isinstance(order.due.trace.gap, Repetitions)):
        return  # once good, the second good test is not kept waiting
    for name in rule.reads:
        values = [v for r in orders.facts.rows("reading", name) if r.where == rule.where and r.day >= done[0].day for v in (r.low, r.high)]
        known = [v for v in values if v is not None and math.isfinite(v)]
        if len(known) < len(values) or not known or max(known) - min(known) > _unrest(name, max(known), orders) * (1 + A_LITTLE):
            return
    orders.put_off(order, done[-1].day + timedelta(days=orders.rules.days(treadmill.test_again)), Yielded("put_off", "treadmill", because=treadmill.test_say))


def _unrest(name: str, highest: float, orders: Orders) -> float:
    """A difference that means nothing: a step of the kit, or where its steps are finer what any home kit is off by. Of ammonia and
    nitrite that is what counts as none."""
    step = kit_step(name, orders.facts.tank, orders.rules)
    if name in ("ammonia", "nitrite"):
        return max(step, orders.rules.number("clear_without_kit"))
    if f"kit_error_{name}" not in orders.rules.numbers:
        return step
    ion = nitrogen_factor(name, "ion") if name in NITROGEN else 1.0
    error = ERRORS * kit_sd(name, highest * ion, orders.facts, orders.rules) / ion
    return max(step, error) if math.isfinite(step) else error


def _readings(due: Due, orders: Orders) -> list[str]:
    """The readings within limits that ask for an order, in its water."""
    alert = next((a for a in orders.rules.alerts if a.alert == due.phase), None)
    asking = [c for c in (due.rule.when, alert.when if alert is not None else None) if c is not None]
    leaves = [leaf for condition in asking for leaf in asked_for(condition) if isinstance(leaf, ReadingNode)]
    return list(dict.fromkeys(leaf.name for leaf in leaves if leaf.where == due.rule.where and any((leaf.at_least, leaf.at_most, leaf.above, leaf.below))))


def _stood_still(name: str, order: Order, times: int, orders: Orders) -> bool:
    """Has no reading moved by a step since before the last so many times? What lies off the scale tells nothing."""
    done = [row for _, row in closings(order.due.key, orders.facts) if row.kind == "done"][-times:]
    step = kit_step(name, orders.facts.tank, orders.rules)
    if name == "nitrate" and not math.isfinite(step):
        step = orders.rules.number("nitrate_step_unknown")
    rows = [r for r in orders.facts.rows("reading", name) if r.where == order.due.rule.where]
    if len(done) < times or not math.isfinite(step):
        return False
    before = [r for r in rows if r.latest <= done[0].latest][-1:]
    since = [r for r in rows if r.latest > done[0].latest]
    values = [r.low for r in (*before, *since)]
    if not before or not since or since[-1].latest <= done[-1].earliest or any(v is None or r.high is None or not math.isfinite(r.high) for v, r in zip(values, (*before, *since), strict=True)):
        return False
    known = [v for v in values if v is not None]
    return max(known) - min(known) < step * (1 - A_LITTLE)


__all__ = ["leave_treadmills"]
