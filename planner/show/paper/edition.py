"""Which edition of a printed plan this is, and what changed since the last one."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Edition:
    """`number` counts from 1; `changes` are lines for the first page, in the order of the plan."""

    number: int = 1
    changes: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        return "first edition" if self.number == 1 else f"edition {self.number}"


FIRST = Edition()

__all__ = ["FIRST", "Edition"]
