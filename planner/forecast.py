"""What the nitrogen cycle is expected to do: milestones in days from the first ammonia.

Dates made here never open a gate; they say when its tests can be expected to be good.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner.conditions import Scene, judge_reading
from planner.gates import Verdicts
from planner.gather import Facts
from planner.model import Answer
from planner.rulebook import ReadingNode, Rulebook
from planner.tankfile import Tank

MILESTONES = ("ammonia_clear", "nitrite_clear", "cycle_done")


@dataclass(frozen=True, slots=True)
class Expectation:
    """Milestones as (quick, likely, slow) days after `origin`; `happened` holds those that readings have shown."""

    origin: date | None
    offsets: dict[str, tuple[int, int, int]]
    happened: dict[str, date]
    readings_used: int
    basis: str


def kind_of_start(tank: Tank) -> str:
    """How this tank starts: `live`, `seeded` (marine media), `bottled`, or `dry`. Fresh-water media counts as nothing
    at full salinity (Kinyage et al. 2019; Gonzalez-Silva et al. 2021)."""
    if tank.rock.kind == "live" and tank.rock.cured_in == "tank":
        return "live"
    if tank.cycle.seed == "media_marine" or tank.rock.kind in ("live", "cured"):
        return "seeded"
    return "bottled" if tank.cycle.seed == "bottled" else "dry"


def first_ammonia(facts: Facts) -> date | None:
    """The day the cycle began: the first dose, or, with live rock curing in the tank, the first ammonia reading."""
    doses = [r for r in facts.rows("dosed", "ammonia") if r.where == "display"]
    if facts.tank.rock.kind == "live" and facts.tank.rock.cured_in == "tank":
        doses += [r for r in facts.rows("reading", "ammonia") if r.where == "display"]
        doses += list(facts.rows("done", "scape/fill"))
    return min((r.day for r in doses), default=None)


def expect(rules: Rulebook, facts: Facts, verdicts: Verdicts) -> Expectation:
    """Milestones from the rules' own waits by kind of start; those already shown by readings as they happened."""
    kind = kind_of_start(facts.tank)
    offsets = {m: tuple(rules.days(f"wait_{kind}_{m}_{s}") for s in ("quick", "likely", "slow")) for m in MILESTONES}
    happened: dict[str, date] = {}
    scene = Scene(facts, rules, verdicts.opened)
    origin = first_ammonia(facts)
    for name in ("ammonia", "nitrite"):
        if origin is None:
            continue
        trace = judge_reading(ReadingNode(name=name, clear=True, any_age=True), scene)
        rows = [r for r in trace.rows if r.day > origin]
        if trace.answer == Answer.YES and rows and (name == "ammonia" or "ammonia_clear" in happened):
            happened[f"{name}_clear"] = rows[0].day
    if (opened := verdicts.opened.get("cycle")) is not None:
        happened["cycle_done"] = opened[0]
    used = sum(len(facts.rows("reading", n)) for n in ("ammonia", "nitrite")) if origin else 0
    basis = f"common waits for this kind of start ({kind})"
    return Expectation(origin, offsets, happened, used, basis)  # type: ignore[arg-type]
