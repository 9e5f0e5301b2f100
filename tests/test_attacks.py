"""No folder of house rules, however well it knows the rules, gets less protection than ours; and each attempt is told."""

from __future__ import annotations

import pytest

from tests.attacks import ALWAYS, Attack, attacks, loosened, merged, our_animals
from tests.story_facts import rulebook

BOOK, ANIMALS = rulebook(), our_animals()
ATTACKS = list(attacks(BOOK, ANIMALS))
ALWAYS_TRIED, OTHERS = ATTACKS[::20], [a for n, a in enumerate(ATTACKS) if n % 20]


def passed(attack: Attack) -> list[str]:
    """What an attempt gained; or that nobody was told of it."""
    over, laid, told = merged(attack, BOOK)
    return loosened(BOOK, over, ANIMALS, laid)


def test_there_are_more_than_two_hundred_attempts() -> None:
    assert len({a.after for a in ATTACKS}) > 200


@pytest.mark.parametrize("part", range(8))
@pytest.mark.slow
def test_none_of_the_others_gains_anything(part: int) -> None:
    assert {a.after: gained for a in OTHERS[part::8] if (gained := passed(a))} == {}


def test_a_twentieth_of_the_attempts_gains_nothing() -> None:
    assert {a.after: gained for a in ALWAYS_TRIED if (gained := passed(a))} == {}


def test_what_a_shop_may_do_is_not_taken_for_an_attack() -> None:
    phase = {"phase": "water", "gate": {"needs_too": [ALWAYS]}, "tasks": [{"id": "bring-sample", "title": "Bring a cup", "anchor": {"task": "water/mix"}}]}
    over, laid, told = merged(Attack("nothing", {"setup/water.yaml": phase}), BOOK)
    assert (loosened(BOOK, over, ANIMALS, laid), told) == ([], 0)
    assert over.phase("water").gate.opens_when != BOOK.phase("water").gate.opens_when


def test_a_loosened_book_is_noticed() -> None:
    name = next(n for n, x in BOOK.numbers.items() if x.protects == "higher_is_stricter" and x.value > 0)
    from dataclasses import replace

    weak = replace(BOOK, numbers=BOOK.numbers | {name: BOOK.numbers[name].model_copy(update={"value": 0.0})}, apart=BOOK.apart[1:], cautions=dict(list(BOOK.cautions.items())[1:]))
    assert len(loosened(BOOK, weak, ANIMALS, ANIMALS)) == 3
