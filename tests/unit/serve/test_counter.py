"""The counter: a board in the order of danger, a new buyer in one form, and the paper that changed."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.unit.serve.site import Phone, copy_of, phone_for, words_of

ON = date(2026, 3, 1)


@pytest.fixture
def counter(tmp_path: Path) -> Phone:
    root = tmp_path / "buyers"
    root.mkdir()
    copy_of("shop-handover", root / "amber")
    leaking = copy_of("shop-handover", root / "zoe")
    with (leaking / "journal.csv").open("a") as file:
        file.write("2026-03-01,event,leak,,,display,\n")
    broken = copy_of("shop-handover", root / "broken")
    (broken / "tank.yaml").write_text("tank: {length: 80", encoding="utf-8")
    return phone_for(root, ON).pair()


def lines(phone: Phone) -> list[str]:
    phone.site.board.lines(60)
    return re.findall(r'class="name" href="/tank/([^"]+)"', phone.get("/").text)


def test_danger_comes_first_and_a_file_that_cannot_be_read_is_not_lost(counter: Phone) -> None:
    found = lines(counter)
    assert sorted(found) == ["amber", "broken", "zoe"] and found[-1] == "amber"
    page = counter.words("/")
    assert "Danger" in page and "Its files cannot be read." in page and "jobs today" in page


def test_what_may_kill_comes_before_what_may_wait_and_that_before_a_quiet_tank(counter: Phone) -> None:
    for name, event in (("aaa", "cyano"), ("bbb", "")):
        folder = copy_of("shop-handover", counter.site.tanks.root / name)
        if event:
            with (folder / "journal.csv").open("a") as file:
                file.write(f"2026-03-01,event,{event},,,display,\n")
    assert [slug for slug in lines(counter) if slug in ("aaa", "zoe", "bbb")] == ["zoe", "aaa", "bbb"]


def test_a_board_is_for_paired_devices_to_read_too(counter: Phone) -> None:
    stranger = counter.another()
    for path in ("/", "/tank/amber", "/new"):
        assert stranger.get(path, follow_redirects=False).headers["location"].startswith("/pair")


def test_a_line_follows_the_journal(counter: Phone) -> None:
    assert lines(counter) == ["broken", "zoe", "amber"]
    with (counter.site.tanks.root / "amber" / "journal.csv").open("a") as file:
        file.write("2026-03-01,event,leak,,,display,\n")
    assert lines(counter) == ["broken", "amber", "zoe"]


def test_the_board_does_not_wait_for_what_is_not_worked_out(counter: Phone) -> None:
    _, missing = counter.site.board.lines(0.0)
    assert missing == 3


BUYER = {"key": "key-of-a-new-buyer", "name": "Ada Lovelace <b>", "length": "80 cm", "width": "45 cm", "height": "45 cm", "units": "metric", "rock": "dry", "source": "ro", "floor": "solid",
         "wishes": "2 ocellaris clownfish, royal gramma", "zone": "Europe/London"}


def test_a_new_buyer_has_a_plan_after_one_form(counter: Phone) -> None:
    page = counter.send("/new", **BUYER)
    assert page.status_code == 200 and "Ada Lovelace <b>" in words_of(page.text) and "<b>" not in page.text.replace("&lt;b&gt;", "")
    text = (counter.site.tanks.root / "ada-lovelace-b" / "tank.yaml").read_text()
    assert "amphiprion-ocellaris, count: 2" in text and re.search(r"^id: [0-9a-f-]{36}", text, re.MULTILINE)


def test_a_new_buyer_that_is_sent_twice_is_one_buyer_and_a_namesake_is_another(counter: Phone) -> None:
    counter.send("/new", **BUYER)
    counter.send("/new", **BUYER)
    assert len(list(counter.site.tanks.root.glob("ada-*"))) == 1
    counter.send("/new", **(BUYER | {"key": "key-of-a-namesake"}))
    assert sorted(p.name for p in counter.site.tanks.root.glob("ada-*")) == ["ada-lovelace-b", "ada-lovelace-b-2"]


def test_a_form_that_is_corrected_and_sent_again_is_written_and_says_that_the_first_stands(counter: Phone) -> None:
    counter.send("/new", **BUYER)
    page = counter.send("/new", **(BUYER | {"length": "90 cm"})).text
    assert "90 cm" in (counter.site.tanks.root / "ada-lovelace-b-2" / "tank.yaml").read_text("utf-8") and "80 cm" in (counter.site.tanks.root / "ada-lovelace-b" / "tank.yaml").read_text("utf-8")
    assert 'href="/tank/ada-lovelace-b/made">take back the first one' in page
    counter.send("/new", **(BUYER | {"length": "90 cm"}))
    assert len(list(counter.site.tanks.root.glob("ada-*"))) == 2 and "that tank stands too" not in counter.words("/tank/ada-lovelace-b-2/made")


def test_a_name_and_a_size_are_enough(counter: Phone) -> None:
    assert counter.send("/new", key="key-of-a-new-buyer", name="../../etc", volume="40 gal", units="us").status_code == 200
    assert (counter.site.tanks.root / "etc" / "tank.yaml").is_file()


@pytest.mark.parametrize(("change", "said"), [({"name": ""}, "Give the tank a name"), ({"length": ""}, "Give its length, width and height"), ({"length": "eighty"}, "length"), ({"wishes": "2 unicorns"}, "no animal that we know"), ({"zone": "Mars/Base"}, "Mars/Base")])
def test_what_is_wrong_is_said_and_what_was_typed_stays(counter: Phone, change: dict[str, str], said: str) -> None:
    before = sorted(counter.site.tanks.root.iterdir())
    answer = counter.send("/new", **(BUYER | change))
    assert answer.status_code == 422 and said in words_of(answer.text) and 'value="45 cm"' in answer.text
    assert sorted(counter.site.tanks.root.iterdir()) == before


def test_one_tank_alone_has_no_board_and_no_new_buyers_beside_it(tmp_path: Path) -> None:
    phone = phone_for(copy_of("shop-handover", tmp_path / "tank"), ON).pair()
    assert phone.get("/", follow_redirects=False).headers["location"] == "/tank/tank"
    assert phone.get("/new").status_code == 404 and phone.send("/new", **BUYER).status_code == 404
    assert [p.name for p in (tmp_path / "tank").iterdir() if p.is_dir() and p.name.startswith("ada")] == []


def test_paper_that_changed_is_offered_to_be_printed_anew(counter: Phone) -> None:
    made = counter.send("/tank/amber/paper", key="k")
    assert made.headers["content-type"] == "application/pdf" and made.content.startswith(b"%PDF-")
    assert "Paper to print anew" not in counter.words("/")
    with (counter.site.tanks.root / "amber" / "journal.csv").open("a") as file:
        file.write("2026-03-01,reading,temperature,25,C,display,\n")
    assert "Paper to print anew" in counter.words("/")
    packed = zipfile.ZipFile(io.BytesIO(counter.send("/papers", tank=["amber", "../zoe", "nobody"]).content))
    assert packed.namelist() == ["amber.pdf", "amber-changed.pdf"] and "Paper to print anew" not in counter.words("/")


def test_paper_that_says_something_else_comes_with_the_sheets_to_exchange(counter: Phone) -> None:
    whole = PdfReader(io.BytesIO(counter.send("/tank/amber/paper", key="k").content))
    place = next(p for p in counter.site.tanks.find() if p.slug == "amber")
    with (place.path / "journal.csv").open("a") as file:
        file.write("2026-03-01,done,site/place,,,display,\n")
    packed = zipfile.ZipFile(io.BytesIO(counter.send("/papers", tank=["amber"]).content))
    assert packed.namelist() == ["amber.pdf", "amber-changed.pdf"]
    changed = PdfReader(io.BytesIO(packed.read("amber-changed.pdf")))
    assert 1 <= len(changed.pages) < len(whole.pages) and "edition 2" in changed.pages[0].extract_text()
    again = zipfile.ZipFile(io.BytesIO(counter.send("/papers", tank=["amber"]).content))
    assert again.namelist() == ["amber.pdf"], "what was exchanged is not exchanged again"


def test_after_the_plan_is_made_the_buyer_hears_what_cannot_live_there(counter: Phone) -> None:
    """A blue tang outgrows 117 L: up to 31 cm long (FishBase, Paracanthurus hepatus; from memory)."""
    answer = counter.send("/new", **(BUYER | {"length": "", "width": "", "height": "", "volume": "117 L", "wishes": "2 ocellaris clownfish, blue tang"}))
    refused = answer.text.partition('class="refused"')[2].partition("</section>")[0]
    assert "blue tang" in refused.lower() and "it needs" in refused
    assert "Not 2" not in words_of(answer.text), "the clownfish may come"
    assert words_of(answer.text).count("Not blue tang") == words_of(answer.text).lower().count("blue tang") == 1, "once, with what would help"
    assert "What would help: " in refused and "Similar animals that would fit: " in refused


def test_from_the_made_plan_it_goes_on_to_paper_calendar_and_the_next_buyer(counter: Phone) -> None:
    page = counter.send("/new", **BUYER).text
    assert 'action="/tank/ada-lovelace-b/paper"' in page and 'href="/tank/ada-lovelace-b/calendar"' in page and 'href="/new"' in page


@pytest.mark.parametrize(("change", "said"), [
    ({"width": "40"}, "Width: 40 has no unit. Write 40 cm,"), ({"zone": "New York"}, "Time zone: unknown time zone 'New York'. Write a zone by its region and city, such as Europe/Berlin."),
    ({"wishes": "2 clowns"}, "“clowns” is no animal that we know. Did you mean ocellaris clownfish, percula clownfish"),
], ids=["a size", "a zone", "a wish"])
def test_what_is_wrong_names_its_field_and_the_likely_answer(counter: Phone, change: dict[str, str], said: str) -> None:
    form = {"name": "Ann", "length": "80 cm", "width": "40 cm", "height": "40 cm", "units": "metric", "zone": "Europe/London"} | change
    answer = counter.send("/new", key="key-of-a-buyer", **form)
    assert answer.status_code == 422 and said in words_of(answer.text).replace(" ,", ",").replace(" .", "."), words_of(answer.text)


def test_a_mistyped_buyer_is_taken_back_whole_and_made_anew_under_the_same_name(counter: Phone) -> None:
    counter.send("/new", **(BUYER | {"length": "800 cm"}))
    base = "/tank/ada-lovelace-b"
    counter.send(f"{base}/calendar", name="phone")
    (feed,) = counter.site.memory.feeds("ada-lovelace-b")
    assert f'action="{base}/taken-back"' in counter.get(f"{base}/made").text and f'action="{base}/taken-back"' in counter.get(f"{base}/description").text
    answer = counter.send(f"{base}/taken-back", key="key-to-take-back")
    assert answer.status_code == 200 and "Taken back" in words_of(answer.text) and base not in answer.text
    assert counter.get(base).status_code == 404 and "ada-lovelace-b" not in lines(counter) and counter.get(f"/feed/{feed.token}/jobs.ics").status_code == 404
    (aside,) = (counter.site.tanks.root / ".taken-back").iterdir()
    assert "800 cm" in (aside / "tank.yaml").read_text("utf-8")
    counter.send("/new", **BUYER)  # the same form, corrected
    assert "80 cm" in (counter.site.tanks.root / "ada-lovelace-b" / "tank.yaml").read_text("utf-8") and not counter.site.memory.feeds("ada-lovelace-b")


def test_a_tank_of_which_something_is_written_is_not_taken_back(counter: Phone) -> None:
    assert "taken-back" not in counter.get("/tank/zoe/made").text + counter.get("/tank/zoe/description").text
    answer = counter.send("/tank/zoe/taken-back", key="key-to-take-back")
    assert answer.status_code == 409 and (counter.site.tanks.root / "zoe" / "tank.yaml").is_file()


def test_everything_that_is_wrong_in_a_form_is_said_at_once(counter: Phone) -> None:
    said = words_of(counter.send("/new", **(BUYER | {"name": "", "length": "", "volume": "160", "wishes": "2 unicorns"})).text)
    assert "Give the tank a name" in said and "What it holds: " in said and "unicorns" in said


def test_a_tank_in_danger_has_no_day_for_animals(counter: Phone) -> None:
    counter.site.board.lines(60)
    (zoe,) = re.findall(r'href="/tank/zoe">(.*?)</li>', counter.get("/").text, re.DOTALL)
    assert "no animals until this is over" in zoe and "about" not in zoe
