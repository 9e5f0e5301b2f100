"""Every page in a real browser: at three widths, by day and by night, by the accessibility rules of axe-core (WCAG 2.2 A and AA and its best
practices), and with targets of 44 px (WCAG 2.2, 2.5.5)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Served, picture

PAGES = ("", "/test", "/round", "/filter", "/plan", "/plan/cycle", "/animals", "/animals?animal=royal+gramma", "/shopping", "/more", "/emergency", "/happened?what=leak", "/failed?job=leak-test/watch", "/calendar", "/made", "/description", "/happened?what=palytoxin", "/emergency?said=zoa+squirted+in+my+eye")
SMALL_TARGETS = """() => [...document.querySelectorAll('button, select, summary, a, input:not([type=hidden])')].filter(e => {
  const box = e.getBoundingClientRect(), inText = e.tagName === 'A' && e.closest('p, li, dd') && !e.matches('.button, .tick, .name, .events a, nav a');
  return box.width && e.checkVisibility() && !inText && !e.matches('.skip') && Math.max(box.height, e.labels?.[0]?.getBoundingClientRect().height ?? 0) < 44;
}).map(e => e.outerHTML.slice(0, 120))"""


@pytest.fixture(scope="session")
def rules_of_axe() -> str:
    package = pytest.importorskip("axe_playwright_python", reason="the rules of axe-core are not installed")
    return (Path(package.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


def violations(page: Any, rules: str) -> list[str]:
    page.evaluate(rules)
    found = page.evaluate("async () => (await axe.run(document)).violations.map(v => v.id + ': ' + v.help + ' ' + v.nodes.map(n => n.html.slice(0, 160) + ' ' + (n.any[0]?.message ?? '')).join(' | '))")
    return list(found)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 390, 1280])
def test_every_page_can_be_used_at_this_width(one_for_all: Served, open_page: Callable[..., Any], rules_of_axe: str, width: int, scheme: str) -> None:
    page = open_page(one_for_all, width, color_scheme=scheme)
    wrong = []
    for path in PAGES:
        page.goto(one_for_all.base + path)
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        wrong += [f"{path}: {one}" for one in violations(page, rules_of_axe)]
        wrong += [f"{path}: small: {one}" for one in page.evaluate(SMALL_TARGETS)]
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wrong.append(f"{path}: wider than the screen")
        page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = false; })") if path not in ("", "/plan/cycle") else None
        picture(page, f"{width}-{scheme}-{path.strip('/').replace('/', '-').replace('?', '-') or 'today'}")
    assert not wrong, "\n".join(wrong)


def test_the_paired_page_can_be_used_without_colour(one_for_all: Served, open_page: Callable[..., Any], rules_of_axe: str) -> None:
    page = open_page(one_for_all, forced_colors="active")
    page.goto(one_for_all.base)
    assert violations(page, rules_of_axe) == []
