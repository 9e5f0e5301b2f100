"""The change of water that a remedy asks for: by the reading, the aim and the new water, within what its rule allows."""

from __future__ import annotations

import math
from datetime import timedelta

from planner.judge.facts import Facts, last_reading
from planner.judge.figures.figure import Maker, made
from planner.rulebook.shapes import Rulebook
from planner.science import dilution
from planner.terms.records import Amount, Quantity, Row
from planner.terms.written_amounts import NITROGEN, nitrogen_factor


def _sized(name: str, reading: str, aim: str, share: str, ion: bool = False) -> Maker:
    """`aim`: the number to come down to, as the ion with `ion`; `share`: the number of the usual share, with its range."""
    factor = nitrogen_factor(reading, "ion") if ion and reading in NITROGEN else 1.0

    def make(facts: Facts, rules: Rulebook) -> Quantity | None:
        usual, bounds = rules.number(share), rules.numbers[share].range
        now, new = last_reading(reading, facts), last_reading(reading, facts, "mixing")
        stored = facts.on - timedelta(days=rules.days("mix_storage"))
        if bounds is None or now is None or new is None or not _known(now) or not _known(new) or new.day < stored:
            return made(name, facts.net_volume_l * usual / 100, "L", f"{usual:g} % of the net volume", net_water=Amount(facts.net_volume_l, "L"))
        least, most = bounds
        x, source, target = (now.low or 0.0) * factor, (new.high or 0.0) * factor, rules.number(aim)
        # Water that is no better than the aim cannot reach it: then as much as the rule allows.
        wanted = most if source >= min(x, target) else 0.0 if x <= target else dilution.change_fraction(x, target, source) * 100
        asked = min(most, max(least, wanted)) if source < x else least
        return made(name, facts.net_volume_l * asked / 100, "L", dilution.FORMULAS["change_fraction"], now=f"{x:g} mg/L", aim=f"{target:g} mg/L", new_water=f"{source:g} mg/L", within=f"{least:g} to {most:g} %")

    return make


def _known(row: Row) -> bool:
    """A figure, and not only that it lies beyond the kit's scale."""
    return row.low is not None and row.high is not None and math.isfinite(row.high)


ammonia_change = _sized("ammonia_change", "ammonia", "alarm_ammonia_twice", "emergency_change_share")
nitrite_change = _sized("nitrite_change", "nitrite", "alarm_nitrite", "nitrite_change_share")
nitrate_change = _sized("nitrate_change", "nitrate", "nitrate_over", "nitrate_change_share", ion=True)

alkalinity_change = _sized("alkalinity_change", "alkalinity", "alkalinity_spilled_aim", "alkalinity_change_share")


def nitrate_changes(facts: Facts, rules: Rulebook) -> Quantity | None:
    """How many changes as large as today's bring nitrate from its last reading to where its alarm is over. Where the reading is off
    the scale, or the new water is no better than the aim, nobody can tell: then three, and the tests decide."""
    change, now, new = nitrate_change(facts, rules), last_reading("nitrate", facts), last_reading("nitrate", facts, "mixing")
    factor, aim = nitrogen_factor("nitrate", "ion"), rules.number("nitrate_over")
    source = (new.high or 0.0) * factor if new is not None and _known(new) else 0.0
    if change is None or now is None or not _known(now) or source >= aim:
        return made("nitrate_changes", 3, "", "not known, so that the tests decide")
    x = max(aim, (now.low or 0.0) * factor)
    count = max(1, math.ceil(math.log((aim - source) / (x - source)) / math.log(1 - change.value / facts.net_volume_l) - 1e-9))
    return made("nitrate_changes", count, "", "ln((aim - new) / (now - new)) / ln(1 - share), rounded up", now=f"{x:g} mg/L", aim=f"{aim:g} mg/L", new_water=f"{source:g} mg/L")


__all__ = ["alkalinity_change", "ammonia_change", "nitrate_change", "nitrate_changes", "nitrite_change"]
