"""The description of the tank on the page: what stands there, what may be said or changed, and what stays as it was."""

from __future__ import annotations

import re
from datetime import date
from html import unescape

import pytest
import yaml

from tests.unit.serve.site import Phone, words_of

ON = date(2026, 2, 13)


def file_of(phone: Phone) -> str:
    return (phone.folder / "tank.yaml").read_text(encoding="utf-8")


def form_of(phone: Phone) -> dict[str, str]:
    """What the form holds before anybody touches it."""
    page = phone.get(f"{phone.base}/description").text
    chosen = {name: found[1] if (found := re.search(r'value="([^"]*)" selected', inside)) else "" for name, inside in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL)}
    return {name: unescape(value) for name, value in re.findall(r'<input name="([^"]+)" value="([^"]*)"', page)} | chosen | {
        "wish_list": unescape(page.partition("<textarea")[2].partition(">")[2].partition("</textarea>")[0])}


def test_it_shows_what_the_file_says_and_sent_back_untouched_changes_no_byte(phone: Phone) -> None:
    before, form = file_of(phone), form_of(phone)
    assert form["room.floor"] == "solid" and form["test_kits.ammonia.basis"] == "NH3" and form["wish_list"].startswith("2 ocellaris clownfish, royal gramma")
    assert "°C" not in phone.words(f"{phone.base}/description")
    assert phone.send(f"{phone.base}/description", **form).status_code == 200 and file_of(phone) == before


def test_answers_change_their_keys_and_nothing_else(phone: Phone) -> None:
    before = yaml.safe_load(file_of(phone))
    comments = re.findall(r"#.*", re.sub(r"(?s)^wish_list:.*?(?=^\S|\Z)", "", file_of(phone), flags=re.MULTILINE))
    page = phone.send(f"{phone.base}/description", **form_of(phone) | {"room.temperature": "66 °F", "equipment.quarantine_tank": "yes", "test_kits.nitrite.basis": "N", "wish_list": "2 ocellaris clownfish, royal gramma"})
    assert "Kept. The plan follows it" in words_of(page.text)
    after = yaml.safe_load(file_of(phone))
    assert after["wish_list"] == [{"animal": "amphiprion-ocellaris", "count": 2}, {"animal": "gramma-loreto", "count": 1}]
    assert (after["room"].pop("temperature"), after["equipment"].pop("quarantine_tank")) == ("66 °F", True)
    assert after["test_kits"]["nitrite"].pop("basis") == "N" and before["test_kits"]["nitrite"].pop("basis") == "NO2"
    before["room"].pop("temperature")
    before["equipment"].pop("quarantine_tank")
    assert {k: v for k, v in after.items() if k != "wish_list"} == {k: v for k, v in before.items() if k != "wish_list"}
    assert set(comments) <= set(re.findall(r"#.*", file_of(phone)))
    assert "tailspot" not in phone.words(f"{phone.base}/animals")


def test_a_wish_list_may_be_emptied_and_no_answer_goes_by_a_slip(phone: Phone) -> None:
    before = file_of(phone)
    answer = phone.send(f"{phone.base}/description", **form_of(phone) | {"room.temperature": ""})
    assert answer.status_code == 422 and "To take it back, edit tank.yaml." in words_of(answer.text) and file_of(phone) == before
    phone.send(f"{phone.base}/description", **form_of(phone) | {"wish_list": ""})
    assert yaml.safe_load(file_of(phone))["wish_list"] == [] and "has no wish list" in phone.words(f"{phone.base}/animals")


@pytest.mark.parametrize(("path", "said", "told"), [
    ("room.temperature", "cold", "is not a temperature"), ("equipment.bin", "60", "60 has no unit"), ("wish_list", "3 unicorns", "is no animal that we know"), ("rock.kind", "granite", "granite"),
    ("equipment.heater", "&a [*a]", "Nothing is changed yet"), ("keeper.reminder_time", "late", "is not a time of day"),
])
def test_what_cannot_be_read_is_said_beside_its_field_and_changes_nothing(phone: Phone, path: str, said: str, told: str) -> None:
    before = file_of(phone)
    answer = phone.send(f"{phone.base}/description", **form_of(phone) | {path: said, "name": "Another name"})
    assert answer.status_code == 422 and told in words_of(answer.text) and file_of(phone) == before
    assert f'aria-describedby="wrong-{path}"' in answer.text and 'value="Another name"' in answer.text


def test_only_a_paired_device_changes_it_and_no_key_beyond_the_form(phone: Phone) -> None:
    before = file_of(phone)
    phone.another().send(f"{phone.base}/description", **{"room.floor": "suspended"})
    phone.send(f"{phone.base}/description", **{"start": "2020-01-01", "tank.length": "1 m", "id": "x"})
    assert file_of(phone) == before


def test_a_text_that_speaks_of_the_file_leads_there(phone: Phone) -> None:
    phone.send(f"{phone.base}/description", **form_of(phone) | {"room.floor": "unknown"})
    assert f'<a href="{phone.base}/description">' in phone.get(f"{phone.base}/plan/site").text + phone.get(f"{phone.base}/more").text
