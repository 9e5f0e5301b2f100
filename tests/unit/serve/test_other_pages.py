"""The pages to read: plan, filter, animals, shopping, round. Each says what the terminal says."""

from __future__ import annotations

import re
from datetime import date, datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from tests.unit.serve.site import Phone, copy_of, fields, phone_for, words_of

ON = date(2026, 2, 13)


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> Phone:
    """A phone that only reads."""
    return phone_for(copy_of("dry-rock-us", tmp_path_factory.mktemp("read") / "tank"), ON).pair()


def shown(command: str, folder: Path, *more: str) -> str:
    return " ".join(CliRunner().invoke(newtank, [command, str(folder), *more, "--on", str(ON)], env={"COLUMNS": "120"}).output.split())


# --- plan


def test_the_road_has_every_phase_with_its_dates(reader: Phone) -> None:
    page = reader.words(f"{reader.base}/plan")
    for title in re.findall(r"Cycle the tank|Clean-up crew|Corals|Fish", shown("plan", reader.folder)):
        assert title in page
    assert "No day opens anything; your tests do." in page


def test_a_phase_shows_its_jobs_and_what_it_needs_without_ids(reader: Phone) -> None:
    page = reader.words(f"{reader.base}/plan/cycle")
    assert "It is over when" in page and "Last of all" not in page and not re.search(r"\bcycle/|\bgate/|newtank ", page)


def test_every_phase_can_be_opened(reader: Phone) -> None:
    paths = re.findall(rf'href="({reader.base}/plan/[a-z-]+)"', reader.get(f"{reader.base}/plan").text)
    assert len(paths) >= 12 and all(reader.get(path).status_code == 200 for path in paths)
    assert reader.get(f"{reader.base}/plan/nonsense").status_code == 404


# --- filter


def test_the_chart_has_the_own_points_and_the_lines_of_the_kit(reader: Phone) -> None:
    page = reader.get(f"{reader.base}/filter").text
    first = re.search(r"<svg.*?</svg>", page, re.DOTALL)
    assert first is not None
    tree = ElementTree.fromstring(first[0])
    marks = [e for e in tree.iter() if e.get("class") == "own"]
    readings = [line for line in reader.journal() if ",reading,ammonia," in line and ",display," in line and "2026-02-05" <= line[:10] <= "2026-02-13"]
    assert len(marks) == len(readings) > 2
    assert "clear" in [e.text for e in tree.iter()] and "today" in [e.text for e in tree.iter()]
    assert tree.get("role") == "img" and "own readings" in tree.get("aria-label", "")


def test_each_mark_stands_at_its_value(reader: Phone) -> None:
    """The axis is linear, so that height and value go together, whatever the scale."""
    from planner.serve.svg_chart import BOTTOM, HEIGHT, TOP, Frame

    frame = Frame(ON, 10, 0.0, 4.0)
    assert (frame.y(0.0), frame.y(4.0), frame.y(2.0)) == (HEIGHT - BOTTOM, TOP, (HEIGHT - BOTTOM + TOP) / 2)
    assert frame.y(9.0) == TOP, "what lies above the chart stays in it"


def test_every_reading_stands_in_a_table_too(reader: Phone) -> None:
    page = reader.get(f"{reader.base}/filter").text
    for caption in ("Ammonia", "Nitrite", "Nitrate", "Salinity", "Temperature", "pH", "Alkalinity"):
        assert f"<caption>{caption}, newest first</caption>" in page


# --- animals


@pytest.mark.parametrize(("animal", "answer", "because"), [
    ("royal gramma", "Not yet: royal gramma", "Still missing: ammonia clear"), ("orangespine unicornfish", "No: orangespine unicornfish", "It needs"), ("tang", "Which animal is that?", "yellow tang"),
    ("sea dragonfly", "Which animal is that?", "do not know this animal"),
])
def test_may_i_buy_this_animal_today(reader: Phone, animal: str, answer: str, because: str) -> None:
    page = words_of(reader.get(f"{reader.base}/animals", params={"animal": animal}).text)
    assert answer in page and because in page


@pytest.mark.parametrize(("day", "rows_before", "answer"), [
    (date(2026, 4, 25), "2026-04-25T16", "Yes: skunk cleaner shrimp"), (date(2026, 4, 25), "2026-04-25", "Not yet: skunk cleaner shrimp"), (date(2026, 4, 24), "2026-04-24", "Not yet: skunk cleaner shrimp"),
], ids=["its day, tested", "its day, not tested", "the day before"])
def test_the_answer_is_yes_on_the_day_of_its_stage_once_both_tests_are_clear(tmp_path: Path, day: date, rows_before: str, answer: str) -> None:
    folder = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[: len(rows_before)] < rows_before)
    page = words_of(phone_for(folder, day).get("/tank/tank/animals", params={"animal": "skunk cleaner shrimp"}).text)
    assert answer in page
    # The test of the day before would be too old on the day itself, so that it is no news.
    assert ("without a test of both within 24 h" in page) == (answer.startswith("Not yet") and day == date(2026, 4, 25))


def test_the_answer_is_no_longer_yes_once_an_alarm_is_up(tmp_path: Path) -> None:
    folder = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:13] < "2026-04-25T16")
    with (folder / "journal.csv").open("a") as file:
        file.write("2026-04-25T12:00-05:00,reading,ammonia,1,mg/L as N,display,\n")
    assert "Not yet: skunk cleaner shrimp" in words_of(phone_for(folder, date(2026, 4, 25)).get("/tank/tank/animals", params={"animal": "skunk cleaner shrimp"}).text)


def test_the_wish_list_is_judged_as_the_command_judges_it(reader: Phone) -> None:
    page, told = reader.words(f"{reader.base}/animals"), shown("stock", reader.folder)
    assert "Defends a cave" in page and "Defends a cave" in told and "Never release an animal." in page


# --- shopping


@pytest.fixture
def shopper(tmp_path: Path) -> Phone:
    return phone_for(copy_of("shop-handover", tmp_path / "tank"), date(2026, 3, 1), shop_file=None).pair()


def test_ticks_in_the_basket_stay_and_write_nothing_into_the_journal(shopper: Phone) -> None:
    before = shopper.journal()
    items = re.findall(r'name="item" value="([^"]+)"', shopper.get(f"{shopper.base}/shopping").text)
    assert len(items) > 5
    page = shopper.send(f"{shopper.base}/shopping", item=items[:2]).text
    assert re.findall(r'name="item" value="([^"]+)" checked', page) == items[:2] and shopper.journal() == before
    assert 'checked' not in shopper.send(f"{shopper.base}/shopping", item=[]).text


def test_a_trip_is_ticked_as_its_job(shopper: Phone) -> None:
    trips = fields(shopper.get(f"{shopper.base}/shopping").text, f"{shopper.base}/done")
    assert trips
    shopper.send(f"{shopper.base}/done", **trips[0])
    assert f",done,{trips[0]['job']}," in shopper.journal()[-1]


def test_what_waits_for_tests_is_not_to_be_bought_yet(shopper: Phone) -> None:
    page = shopper.words(f"{shopper.base}/shopping")
    assert "Do not buy these yet." in page and "clownfish" in page.partition("Do not buy these yet.")[2]


def test_no_animal_is_to_be_bought_while_the_tank_is_not_open_for_them(reader: Phone) -> None:
    """The crew as a whole has no stage of its own in this story, and so no day that waits for a test."""
    page = reader.words(f"{reader.base}/shopping")
    assert "small snails of the clean-up crew" in page.partition("Do not buy these yet.")[2] and "small snails" not in page.partition("Do not buy these yet.")[0]


# --- round


def test_a_round_leads_through_the_evening_and_back(tmp_path: Path) -> None:
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < str(ON)), ON).pair()
    path, seen = f"{phone.base}/round", []
    for _ in range(12):
        page = phone.get(path).text
        seen.append(re.findall(r"<h2>(.*?)</h2>", page)[0])
        forms = fields(page, f"{phone.base}/done")
        if not forms:
            break
        answer = phone.send(f"{phone.base}/done", follow=False, **forms[0])
        assert answer.status_code == 303, words_of(answer.text)
        path = answer.headers["location"]
    assert seen[-1] == "Before you go" and "Does every pump run" not in seen
    assert sum(",done," in line and line.startswith(str(ON)) for line in phone.journal()) == len(seen) - 1


def test_hands_go_in_only_after_the_power_is_off(tmp_path: Path) -> None:
    phone = phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-04-20"), date(2026, 4, 20)).pair()
    path, kinds = f"{phone.base}/round", []
    for _ in range(30):
        page = phone.get(path).text
        kinds.append(re.findall(r"<h2>(.*?)</h2>", page)[0])
        if kinds[-1] == "Before you go":
            break
        links = re.findall(r'class="(?:tick|button) wide" href="([^"]+)"', page)
        path = links[0].replace("&amp;", "&")
    assert "Before hands go in" in kinds and kinds.index("Before hands go in") < kinds.index("Hands out")


def test_a_round_in_a_leak_has_what_helps_alone_and_asks_nobody_to_switch_on(tmp_path: Path) -> None:
    root = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < "2026-02-14")
    with (root / "journal.csv").open("a", encoding="utf-8") as journal:
        journal.write("2026-02-14 09:00,event,leak,,,display,\n")
    phone = phone_for(root, date(2026, 2, 14)).pair()
    path, heads, text = f"{phone.base}/round", [], ""
    for _ in range(30):
        text = phone.get(path).text
        heads.append(re.findall(r"<h2>(.*?)</h2>", text)[0])
        if heads[-1] == "Before you go":
            break
        path = re.findall(r'class="button wide" href="([^"]+)"', text)[0].replace("&amp;", "&")
    assert heads == ["Switch off at the fuse box and stop the leak", "Empty the tank, return or repair it, and start the test again", "Check that the leak is repaired and tested", "Before you go"]
    assert "switched on again" not in text and "Are your hands washed?" in text and "can wait until tomorrow" in text


def test_looking_at_a_round_writes_nothing(reader: Phone) -> None:
    before = reader.journal()
    reader.get(f"{reader.base}/round?handled=start-up/top-up%232,power_off&off=1")
    assert reader.journal() == before


@pytest.fixture
def bare(tmp_path: Path) -> Phone:
    """A tank of which little is said."""
    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-02-13\ntank: {length: 90 cm, width: 45 cm, height: 45 cm}\nrock: {kind: dry}\n", encoding="utf-8")
    return phone_for(tmp_path / "tank", date(2026, 2, 13)).pair()


def test_what_is_needed_first_stands_first_and_no_log_sheet_is_asked_for(bare: Phone) -> None:
    page = bare.get(f"{bare.base}/shopping").text
    days = [datetime.strptime(f"{found} 2026", "%d %b %Y") for found in re.findall(r"<h2>[^<]*needed \w{3}\s(\d+\s\w{3})</h2>", page.replace("\u00a0", " "))]
    assert len(days) > 2 and days == sorted(days)
    assert "log sheet" not in page and f'in <a href="{bare.base}/description">your description</a>' in page


def test_a_chart_has_figures_that_can_be_read_at_its_side(bare: Phone) -> None:
    page = bare.get(f"{bare.base}/filter").text
    figures = re.findall(r'text-anchor="end">([\d.]+)</text>', page)
    assert len(figures) > 8 and all(len(f.replace(".", "").lstrip("0")) <= 3 for f in figures)


def test_goods_may_be_bought_early_and_what_lives_may_not(bare: Phone) -> None:
    page = bare.words(f"{bare.base}/shopping")
    now, _, later = page.partition("Do not buy these yet.")
    assert "white vinegar" in now and "white vinegar" not in later and "the day may move" in now
    assert ": ?" not in page and "RCD or GFCI on every tank socket : as needed" in now


def test_the_floor_is_written_into_the_description_and_on_no_log_sheet(bare: Phone) -> None:
    assert "We cannot tell what the floor is" in bare.words(f"{bare.base}/plan/site") and "log sheet" not in bare.words(f"{bare.base}/plan/site")


def test_a_name_that_may_be_several_animals_leads_to_each(reader: Phone) -> None:
    page = reader.get(f"{reader.base}/animals?animal=clown").text
    (said,) = re.findall(r"<p>It may be (.*?)</p>", page)
    assert 'href="' in said and all(reader.get(to).status_code == 200 for to in re.findall(r'href="([^"]+)"', said))
