"""The kinds of offence, and the record of one."""

from __future__ import annotations

from dataclasses import dataclass

COLLISION, DEAD_END, TREADMILL, HARM, JUMP, STAYS, SILENT, WRONG = (
    "colliding orders", "dead ends", "treadmills", "harm by obeying", "dates that jump", "alarms that stay", "silence on a bad reading", "refused or wrong facts")
KINDS = (COLLISION, DEAD_END, TREADMILL, HARM, JUMP, STAYS, SILENT, WRONG)


@dataclass(frozen=True)
class Offence:
    """One thing that should not have happened, on one day of a life."""

    kind: str
    what: str
    day: int
    said: str
