"""The filter handled a dose of ammonia in time, often enough."""

from __future__ import annotations

from planner.frozen import dataclass
from planner.judge.challenge import challenge, challenge_mg_n_l, first_possible_proof, newest_failed
from planner.judge.evidence import unread
from planner.judge.kinds.kind import Days, Diary, JudgedKind
from planner.judge.possible import Possible, since
from planner.judge.scene import NO, UNKNOWN, YES, Scene, first_instant
from planner.rulebook.kinds.challenge import ChallengeNode
from planner.terms.records import Row, Trace, Unreadable
from planner.terms.traces import Asked, NoTime, NotTried, Repetitions, Unread


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofAsked(Asked):
    """The dose, mg/L as N, and the hours within which it has to be gone, on so many days; or (`failed`) that it was not. `basis`: what
    the keeper's kit counts, if it was described."""

    dose_mg_n_l: float
    hours: float
    times: int
    failed: bool = False
    basis: str | None = None


def answer(node: ChallengeNode, scene: Scene) -> Trace:
    if node.failed:
        row = newest_failed(node, scene.facts, scene.rules)
        left = ProofAsked(dose_mg_n_l=challenge_mg_n_l(node, scene.facts, scene.rules), hours=scene.rules.hours(node.hours), times=1, failed=True)
        return Trace(left, NO if row is None else YES, () if row is None else (row,), () if row is None else (row,))
    result = challenge(node, scene.facts, scene.rules)
    kit = scene.facts.tank.test_kits.get("ammonia")
    what = ProofAsked(dose_mg_n_l=challenge_mg_n_l(node, scene.facts, scene.rules), hours=scene.rules.hours(node.hours), times=node.times, basis=kit.basis if kit is not None else None)
    hidden = next((line for name in ("ammonia", "nitrite") for line in scene.facts.unreadable(name, "display") if not _is_past(line, name, result.rows, scene)), None)
    if hidden is not None:
        damaged = Unread(scene.facts.journal.file, hidden.line)
        return Trace(what, UNKNOWN, (*result.told, damaged), result.rows, gap=damaged)
    if result.passed >= node.times:
        return Trace(what, YES, result.told, result.rows)
    gap = NoTime(of_a_test=True) if result.needs_time else Repetitions(result.passed, node.times)
    return Trace(what, UNKNOWN if result.needs_time or not result.tried else NO, result.told or (NotTried(),), result.rows, gap=gap)


def _is_past(line: Unreadable, name: str, proofs: tuple[Row, ...], scene: Scene) -> bool:
    """Was it tested anew since, and does every test of these proofs lie after it?"""
    return unread(name, "display", scene.facts, scene.rules) is None and all(r.earliest >= line.moment for r in proofs)


def may_hold(node: ChallengeNode, scene: Scene) -> Possible:
    """From the test on by which enough large doses may have been found handled."""
    if node.failed:
        return since(first_instant(scene.facts, "dosed", "ammonia"))
    return since(first_possible_proof(node, scene.facts, scene.rules))


def days_needed(node: ChallengeNode, trace: Trace, diary: Diary) -> Days:
    return [diary.of_proof(trace.gap.missing if isinstance(trace.gap, Repetitions) else node.times)]


KIND = JudgedKind(answer, may_hold, days_needed)
