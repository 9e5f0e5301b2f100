"""`wish`: what the wish list asks for."""

from __future__ import annotations

from planner.files.checked import Field
from planner.rulebook.kinds.node import Node


class WishNode(Node):
    """Does the wish list ask for an animal of one of these groups of the catalogue (or a `grazer`, a snail that eats film)? No without a list; unknown while the list
    has not been judged, or while a name on it is not clear; with `maybe` that is yes, for what is done for the stricter case. `to_come`: of
    what the list asks for, only that which has not come yet."""

    groups: tuple[str, ...] = Field(min_length=1)
    maybe: bool = False
    to_come: bool = False
