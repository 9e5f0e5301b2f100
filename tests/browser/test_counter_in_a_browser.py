"""The counter in a real browser: the board, a new buyer within two minutes, and the pages of a stranger."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Served, picture, serving
from tests.browser.test_seen_in_a_browser import SMALL_TARGETS, rules_of_axe, violations  # noqa: F401  # a fixture
from tests.unit.serve.site import copy_of


@pytest.fixture
def counter(tmp_path: Path) -> Iterator[Served]:
    (tmp_path / "buyers").mkdir()
    for name in ("amber", "zoe"):
        copy_of("shop-handover", tmp_path / "buyers" / name)
    with (tmp_path / "buyers" / "zoe" / "journal.csv").open("a") as file:
        file.write("2026-02-15,event,leak,,,display,\n")
    yield from serving(tmp_path / "buyers")


@pytest.mark.parametrize("width", [320, 1280])
def test_a_buyer_is_set_up_at_the_counter(counter: Served, open_page: Callable[..., Any], rules_of_axe: str, width: int) -> None:  # noqa: F811
    page = open_page(counter, width, paired=False)
    page.goto(counter.address)
    wrong = [*violations(page, rules_of_axe), *page.evaluate(SMALL_TARGETS)]
    picture(page, f"{width}-pair")
    page.fill("#code", counter.code)
    page.click("main button[type=submit]")
    page.wait_for_selector("text=A new buyer")
    counter.phone.site.board.lines(60)
    page.reload()
    wrong += [*violations(page, rules_of_axe), *page.evaluate(SMALL_TARGETS)]
    assert page.locator(".tanks li").first.inner_text().find("Danger") > 0
    picture(page, f"{width}-board")
    page.click("text=A new buyer")
    wrong += [*violations(page, rules_of_axe), *page.evaluate(SMALL_TARGETS)]
    picture(page, f"{width}-buyer")
    page.fill("[name=name]", "Grace")
    page.fill("[name=volume]", "160 L")
    page.fill("[name=wishes]", "2 ocellaris clownfish")
    page.click("text=Make the plan")
    page.wait_for_selector("h1:has-text('Grace')")
    picture(page, f"{width}-grace")
    page.goto(f"{counter.address}/devices")
    wrong += [*violations(page, rules_of_axe), *page.evaluate(SMALL_TARGETS)]
    assert not wrong, "\n".join(wrong)
