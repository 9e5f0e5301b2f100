"""The printed plan against the standards of its file and its paper, read by pypdf.

Paper: ISO 216 (A4 is 210 x 297 mm) and ANSI/ASME Y14.1 (Letter is 8.5 x 11 in). Tags: ISO 14289-1 (PDF/UA-1), clauses 5
(identification), 7.1 (tagged, title shown), 7.2 (language), 7.3 (figures with a text); and its 104 rules as the checker `page` (package
page-validation, which passes the corpus of files that the rules' own project keeps) tries them. No program sees whether an order of
reading makes sense or a text for the ear is true. QR code: its address in ISO/IEC 18004
is left to the writer; here only its text for the ear is read.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import struct
import subprocess
import sys
import zlib
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import page as checker
import pypdf
import pytest

from planner.plan.shop_file import Shop
from tests.each import over
from tests.unit.handout_reader import DAYS, case_of, one_line, pages_of, reader

pytestmark = pytest.mark.slow  # a plain run stays under three minutes; `.ci/run` runs these after it

ROOT = Path(__file__).parents[2]
NAMES: dict[str, str] = json.loads((ROOT / "tests/unit/hostile_names.json").read_text(encoding="ascii"))
POINTS_PER_MM = 72 / 25.4
LONG = "Wm" * 100


def png(wide: int, high: int) -> bytes:
    """A grey picture, written by hand after the PNG specification (W3C, second edition, clauses 5 and 11)."""
    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\0" + bytes([128] * wide) for _ in range(high))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


def shop(**fields: Any) -> Shop:
    return Shop.model_validate({"name": "Corner Reef Shop", **fields})


def named(name: str, scenario: str = "shop-handover", **options: Any) -> Any:
    case = case_of(scenario)
    return replace(case, plan=replace(case.plan, name=name)).printed(**options)


def seen(text: str) -> str:
    """All of a text that can be seen, by the Unicode data of the standard library."""
    return "".join(c for c in text if c.isprintable() and not c.isspace())


def chunks(page: pypdf.PageObject) -> list[tuple[str, float, float, float, str]]:
    """Each piece of text with its place (pt from the left and the bottom), its size in pt, and its font."""
    found: list[tuple[str, float, float, float, str]] = []

    def note(text: str, cm: list[float], tm: list[float], font: dict[str, Any] | None, size: float) -> None:
        if text.strip():
            scale = abs(tm[3] * cm[3]) or 1.0
            found.append((text, tm[4] * cm[0] + cm[4], tm[5] * cm[3] + cm[5], size * scale, str(font["/BaseFont"]) if font else ""))

    page.extract_text(visitor_text=note)
    return found


@pytest.mark.parametrize(("paper", "wide", "high"), [("a4", 210 * POINTS_PER_MM, 297 * POINTS_PER_MM), ("letter", 8.5 * 72, 11 * 72)])
def test_the_paper_has_the_size_of_its_standard(paper: Any, wide: float, high: float) -> None:
    for page in reader(case_of("live-rock-small").printed(paper=paper).pdf).pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == (pytest.approx(wide, abs=0.01), pytest.approx(high, abs=0.01))


def test_the_buyers_units_choose_the_paper_unless_the_shop_or_the_command_does() -> None:
    metric, us = case_of("shop-handover"), case_of("dry-rock-us")
    assert (metric.printed().paper, us.printed().paper) == ("a4", "letter")
    assert us.printed(shop=shop(paper="a4")).paper == "a4" and us.printed(shop=shop(paper="a4"), paper="letter").paper == "letter"


@pytest.mark.parametrize("scenario", DAYS)
def test_the_file_is_tagged_and_says_that_it_follows_the_standard(scenario: str) -> None:
    made = case_of(scenario).printed()
    document = reader(made.pdf)
    root = document.trailer["/Root"]
    assert made.tagged and made.warnings == ()
    assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root and root["/Lang"].startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert re.search(r"<pdfuaid:part>1</pdfuaid:part>", root["/Metadata"].get_data().decode())
    assert case_of(scenario).plan.name in str(document.metadata.title)  # type: ignore[union-attr]


def broken_rules(pdf: bytes) -> list[str]:
    found = checker.validate_pdf_bytes(pdf, profile="ua1")
    assert found.rules.total > 100
    return [f"{failure.rule_id}: {failure.message}" for failure in found.failures]


@pytest.mark.parametrize("scenario", DAYS)
def test_an_independent_checker_finds_no_broken_rule_of_the_standard(scenario: str) -> None:
    assert broken_rules(case_of(scenario).printed(shop=shop(calendar_address="https://shop.example/c.ics"), logo=png(40, 20)).pdf) == []


def test_the_checker_finds_a_file_that_is_not_tagged() -> None:
    blank = pypdf.PdfWriter()
    blank.add_blank_page(200, 200)
    out = io.BytesIO()
    blank.write(out)
    assert broken_rules(out.getvalue()) != []


def structure(pdf: bytes) -> list[tuple[str, dict[str, Any]]]:
    """Every element of the structure tree: its kind and its dictionary."""
    found: list[tuple[str, dict[str, Any]]] = []
    waiting: list[Any] = [reader(pdf).trailer["/Root"]["/StructTreeRoot"]["/K"]]
    while waiting:
        item = waiting.pop()
        item = item.get_object() if hasattr(item, "get_object") else item
        if isinstance(item, list):
            waiting += item
        elif isinstance(item, dict):
            if "/S" in item:
                found.append((str(item["/S"]), item))
            waiting.append(item.get("/K", []))
    return found


def test_pictures_have_a_text_for_the_ear_and_tables_have_headings() -> None:
    made = case_of("shop-handover").printed(shop=shop(calendar_address="https://shop.example/c.ics"), logo=png(40, 20))
    tree = structure(made.pdf)
    told = [str(item.get("/Alt", "")) for kind, item in tree if kind == "/Figure"]
    assert len(told) == 5 and all(told), told
    assert {"Logo of Corner Reef Shop", "QR code of the address of the calendar: https://shop.example/c.ics"} <= set(told)
    assert [t for t in told if t.startswith(("The expected course of ammonia", "The expected course of nitrite"))][1:] != []
    assert "The tank from the front and from the side: 100 cm by 45 cm by 50 cm" in {t.replace("\xa0", " ") for t in told}
    kinds = [kind for kind, _ in tree]
    assert kinds.count("/TH") > 10 and kinds.count("/H1") == 1 and kinds.count("/H2") > 8


def pictures_in(resources: Any) -> list[tuple[int, int]]:
    """The size in pixels of each picture, also of those inside drawings."""
    found = []
    for item in (resources.get("/XObject") or {}).values():
        thing = item.get_object()
        found += [(thing["/Width"], thing["/Height"])] if thing["/Subtype"] == "/Image" else pictures_in(thing.get("/Resources") or {})
    return found


def test_a_logo_in_pixels_is_on_the_first_side() -> None:
    made = case_of("live-rock-small").printed(shop=shop(), logo=png(40, 20))
    assert pictures_in(reader(made.pdf).pages[0]["/Resources"]) == [(40, 20)]


@pytest.mark.slow
def test_the_same_plan_gives_the_same_bytes_in_any_process() -> None:
    script = ("import sys, hashlib; sys.path[:0] = ['tests/unit', '.']\nfrom handout_reader import case_of\n"
              "print(hashlib.sha256(case_of('bottled-hot-room').printed().pdf).hexdigest())")
    told = [subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True, env={**os.environ, "PYTHONHASHSEED": seed, "TZ": zone, "LC_ALL": "C"}).stdout.strip()
            for seed, zone in (("1", "UTC"), ("77", "Asia/Tokyo"))]
    here = case_of("bottled-hot-room")
    for other in ("live-rock-small", "shop-handover"):
        replace(case_of(other)).printed()  # what was set before leaves no trace
    assert {*told, hashlib.sha256(replace(here).printed().pdf).hexdigest()} == {told[0]}


@cache
def usual_pages() -> int:
    return len(reader(named("Reef", "live-rock-small").pdf).pages)


@pytest.mark.parametrize("part", [0, *(pytest.param(part, marks=pytest.mark.slow) for part in range(1, 10))])
def test_a_hostile_name_is_printed_as_it_is_and_obeyed_by_nothing(part: int) -> None:
    """A tenth of them on every run: each is a whole file set and read back."""
    @over("name", list(NAMES.values())[part::10], ids=list(NAMES)[part::10])
    def printed(name: str) -> None:
        made = named(name, "live-rock-small")
        document = reader(made.pdf)
        first, second = (one_line(document.pages[n].extract_text()) for n in range(2))
        assert made.tagged and abs(len(document.pages) - usual_pages()) <= 1 and document.metadata is not None
        assert "This tank" in second[:40]
        if made.warnings == () and seen(name) and all(ord(c) < 0x250 for c in name):
            assert seen(first.partition("Buyer")[0]) == seen(name)
        assert seen(str(document.metadata.title)).startswith(seen(name).replace("\ufffd", "")[:60])
        assert not document.pages[0].get("/AA") and "/JavaScript" not in str(document.trailer["/Root"])

    printed()


def test_letters_in_no_font_are_named_and_a_stand_in_keeps_the_file_whole() -> None:
    """Thai and Korean: the fonts that travel with the program have neither."""
    made = named("ตู้ 수조", "live-rock-small")
    assert made.tagged and broken_rules(made.pdf) == []
    assert len(made.warnings) == 1 and all(letter in made.warnings[0] for letter in "ต수조") and "□" in made.warnings[0]


@over("name", ["Аквариум", "Ενυδρείο", "אקווריום", "Żółta łódź", "مرحبا", "海水槽のサンゴ", "Reef 🐠🪸"])
def test_scripts_that_the_fonts_have_are_printed_as_they_are(name: str) -> None:
    made = named(name, "live-rock-small")
    assert made.warnings == () and broken_rules(made.pdf) == [] and "□" not in reader(made.pdf).pages[0].extract_text()


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_name_of_two_hundred_signs_stays_on_the_paper(paper: Any) -> None:
    """In Times-Bold (Adobe's metrics of the core fonts, from memory) W and m together are 1.833 of the size wide."""
    made = named(LONG, shop=shop(name=LONG, address=[LONG, LONG], phone="1" * 80, note=LONG * 3, calendar_address="https://shop.example/" + "c" * 200), logo=png(40, 20), paper=paper)
    document = reader(made.pdf)
    wide, high = float(document.pages[0].mediabox.width), float(document.pages[0].mediabox.height)
    assert "This tank" in one_line(document.pages[1].extract_text())
    assert seen(LONG) in seen(document.pages[0].extract_text().replace("\u200b", ""))
    for page in document.pages[:3]:
        long = [(text, x, y, size) for text, x, y, size, _ in chunks(page) if "WmWm" in text]
        assert long and max(x + len(text) / 2 * 1.833 * size for text, x, _, size in long) < wide
        assert all(10 < y < high for _, _, y, _ in long)


def crowded(page: pypdf.PageObject) -> list[str]:
    """Lines of a column that stand closer than letters of ten points are high, each counted where it begins: at the edge of
    the column or of its steps."""
    found, middle, all_of_it = [], float(page.mediabox.width) / 2, chunks(page)
    for left in (0.0, middle):
        column = [(y, x, text) for text, x, y, *_ in all_of_it if left <= x < left + middle]
        edge = min((x for _, x, _ in column), default=0.0)
        lines = sorted(((y, text) for y, x, text in column if x <= edge + 15), reverse=True)
        found += [f"{above[:30]!r} over {below[:30]!r}: {high - low:.1f} pt" for (high, above), (low, below) in pairwise(lines) if 0.5 < high - low < 10]
    return found


LATER = (("shop-handover", "2026-05-10"), ("dry-rock-us", "2026-02-13"), ("leak-on-day-one", "2026-03-20"))


EVERY_TIME = LATER[:1]


@pytest.mark.parametrize(("scenario", "on"), [*EVERY_TIME, *(pytest.param(*at, marks=pytest.mark.slow) for at in (*DAYS.items(), *LATER) if at not in EVERY_TIME)])
def test_no_line_of_a_card_is_printed_over_another(scenario: str, on: str) -> None:
    made = case_of(scenario, on).printed().pdf
    cards = [page for page, text in zip(reader(made).pages, pages_of(made), strict=True) if "Watch." in text]
    assert len(cards) >= 4 and [line for page in cards for line in crowded(page)] == []


@pytest.mark.parametrize(("scenario", "on"), LATER)
def test_no_line_breaks_in_a_day_or_before_a_point_between_items(scenario: str, on: str) -> None:
    """How days are written: `13 Feb`. A kit's unit keeps what it counts."""
    for page in reader(case_of(scenario, on).printed().pdf).pages:
        text = page.extract_text()
        assert re.findall(r"(?m)^·|\b\d{1,2} ?\n(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b|^as N(?:O\d|H\d)?\b|\(\d{1,2}\s[A-Z][a-z]{2}\sto ?\n", text) == []


@pytest.mark.parametrize("scenario", ["leak-on-day-one", "stalled-then-recovers"])
def test_no_letter_is_smaller_than_ten_points(scenario: str) -> None:
    made = case_of(scenario).printed(shop=shop(address=["1 Quay"], note="Welcome.", calendar_address="https://shop.example/c.ics"))
    sizes = [(round(size, 2), text) for page in reader(made.pdf).pages for text, _, _, size, _ in chunks(page)]
    assert len(sizes) > 500 and min(sizes)[0] >= 9.99, min(sizes)


def test_no_letter_is_set_in_italics() -> None:
    """In the italics of this face a J may be taken for a 3."""
    for page in reader(case_of("shop-handover").printed().pdf).pages:
        assert {font for *_, font in chunks(page) if "Italic" in font or "Oblique" in font} == set()


def test_nothing_is_told_by_colour() -> None:
    """Colours of a content stream are set by rg, RG, k, K, sc and SC (ISO 32000-1, 8.6.8); greys have equal parts."""
    for page in reader(case_of("shop-handover").printed().pdf).pages:
        content = page.get_contents()
        assert content is not None
        drawn = content.get_data().decode("latin-1")
        assert re.findall(r"[\d.]+ [\d.]+ [\d.]+ [\d.]+ [kK]\b", drawn) == []
        triples = [set(found) for found in re.findall(r"([\d.]+) ([\d.]+) ([\d.]+) (?:rg|RG|scn|SCN|sc|SC)\b", drawn)]
        assert [t for t in triples if len(t) > 1] == []


def test_the_shops_letterhead_note_prices_and_sum_are_printed() -> None:
    prices = {"salt": "3.20 per kg", "mixing_pump": "19 each", "gramma-loreto": "45 each"}
    made = case_of("shop-handover").printed(shop=shop(address=["12 Harbour Lane", "Northwick"], phone="01632 960 123", note="Bring a cup of water.", currency="£", prices=prices))
    pages = pages_of(made.pdf)
    text = " ".join(pages)
    assert pages[0].startswith("Corner Reef Shop 12 Harbour Lane · Northwick · 01632 960 123") and "Bring a cup of water." in pages[1]
    # 18.5 kg of salt as the plan has it (18,461.179 g) at 3.20 a kilogram is 59.08; with a pump at 19 and a fish at 45 it is 123.08.
    assert "£59.08" in text and "£45.00" in text and "Together: £123.08." in text and "not in the total" in text


def test_a_tank_without_an_id_has_no_code_and_that_is_told() -> None:
    case = case_of("shop-handover")
    nameless = replace(case, plan=replace(case.plan, tank_id=None))
    made = nameless.printed(shop=shop(calendar_address="https://shop.example/{id}.ics"))
    assert made.tagged and len(made.warnings) == 1 and "no id" in made.warnings[0] and "for a phone" not in pages_of(made.pdf)[0]
    assert nameless.printed(shop=shop(calendar_address="https://shop.example/all.ics")).warnings == ()


def test_without_a_shop_there_is_no_letterhead_and_no_cost() -> None:
    text = " ".join(pages_of(case_of("shop-handover").printed().pdf))
    assert "Together:" not in text and "for a phone" not in text
