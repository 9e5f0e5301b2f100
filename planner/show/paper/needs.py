"""What a phase asks for before it is finished, as lines with room for the pencil."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.judge.kinds.challenge import ProofAsked
from planner.judge.kinds.reading import ReadingAsked
from planner.rulebook.shapes import PhaseRole
from planner.show.json.record_objects import Json
from planner.show.words.conditions import need_reads, need_seen, need_to_tick
from planner.show.words.words import bare_day
from planner.terms.records import Answer, Need, Phase, Plan, Row, Trace

MOST_TIMES = 4
"""So many blanks a line has at most; more readings go onto the log sheet."""
LAST_GATE: PhaseRole = "opens_to_animals"
PROOF: PhaseRole = "proves_filter"
TICKED, ALL_TICKED, ALL_BUT = "Ticked above: ", "All jobs above are ticked", ", apart from these: "
WALLED = ("Its test is written down on page 1", "All its tests are written down on page 1")


def need_text(need: Need) -> str:
    """What a gate asks for, as a line of a list to tick."""
    plain = need_to_tick(need, amounts=False)  # the grams of a proof dose stand on the card
    return plain[:1].upper() + plain[1:] if not plain.startswith("pH") else plain


def need_times(need: Need) -> int:
    """On how many days it is to be read."""
    return min(MOST_TIMES, _times(need.trace))


def _times(trace: Trace) -> int:
    own = trace.asked.times if isinstance(trace.asked, ReadingAsked | ProofAsked) else 1
    return max(own, *map(_times, trace.parts)) if trace.parts else own


def need_line(need: Need) -> Json:
    """The words, whether a value is to be written down, and on how many days."""
    return {"text": need_text(need), "value": need_reads(need), "times": need_times(need)}


def open_needs(phase: Phase, jobs: Sequence[str], on_wall: Sequence[Json] = ()) -> list[Json]:
    """What is still wanted of a phase; what was never wrong is not asked for. Jobs of the card (their titles) that have to be
    ticked stand in one line, for each has its own box above; so do the tests whose blanks are `on_wall`."""
    if phase.opened is not None or phase.role == "without_end":
        return []
    lines = [need_line(n) for n in phase.needs if n.met is not Answer.YES]
    ticked = [x["text"] for x in lines if x["text"] in jobs and not x["value"]]
    others = [title for title in dict.fromkeys(jobs) if title not in ticked]
    walled = [x for x in lines if x["value"] and x in on_wall]
    names = TICKED + "; ".join(f"“{title}”" for title in ticked) if len(others) >= len(ticked) else ALL_TICKED + (ALL_BUT + "; ".join(f"“{title}”" for title in others) if others else "")
    short = [one for one, many in (({"text": names, "value": False, "times": 1}, len(ticked) > 1),
                                   ({"text": WALLED[len(walled) > 1], "value": False, "times": 1}, bool(walled))) if many]
    return [*short, *(x for x in lines if x not in walled and (len(ticked) < 2 or x["text"] not in ticked))]


def wall_tests(plan: Plan) -> list[Json]:
    """The tests before the next animals: the proof of the filter and the tests that open the tank, all of them, with what
    is met once it is their turn (until then the water still changes); once it is open, those of the first phase with animals that is not finished. Empty where no phase waits for a test."""
    gate = plan.phase_as(LAST_GATE)
    if gate is not None and gate.opened is None:
        proof = plan.phase_as(PROOF)
        before: Sequence[Need] = proof.needs if proof is not None else ()
        proven = ("", bare_day(proof.opened, plan.on)) if proof is not None and proof.opened is not None else None
        its_turn = gate.started is not None and gate.started <= plan.on
        return [*(_with_seen(n, proven, plan.on) for n in before if need_reads(n)), *(_with_seen(n, None, plan.on) if its_turn else need_line(n) for n in gate.needs if need_reads(n))]
    for phase in plan.phases:
        lines = [need_line(n) for n in phase.needs if n.met is not Answer.YES and need_reads(n)]
        if phase.opened is None and lines:
            return lines
    return []


def _with_seen(need: Need, proven: tuple[str, str] | None, on: date) -> Json:
    """The line, and for what is met its value and its day: `proven`, else the last reading that shows it."""
    if proven is None and need.met is not Answer.YES:
        return need_line(need)
    last = next((r for r in reversed(need_seen(need)) if isinstance(r, Row)), None)
    read = (f"{last.value} {last.unit}".strip(), bare_day(last.day, on)) if last is not None else ("", "")
    return need_line(need) | {"seen": proven or read}


__all__ = ["LAST_GATE", "PROOF", "need_line", "need_text", "need_times", "open_needs", "wall_tests"]
