"""Entering tests on the phone: in the kit's own unit, shown as understood before they are saved, never written twice."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import newtank
from planner.plan.evening import SETTLES_MINUTES
from tests.unit.serve.site import Phone, copy_of, fields, phone_for, words_of

ON, ROWS_BEFORE = date(2026, 2, 15), "2026-02-13"
RESULTS = {"value:ammonia.display": "", "pick:ammonia.display": "0.5", "unit:ammonia.display": "mg/L as NH3", "pick:nitrite.display": ">5", "unit:nitrite.display": "mg/L as NO2"}


@pytest.fixture
def phone(tmp_path: Path) -> Phone:
    return phone_for(copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < ROWS_BEFORE), ON).pair()


def test_a_test_that_is_due_stands_first_with_the_steps_of_its_own_kit(phone: Phone) -> None:
    page = phone.get(f"{phone.base}/test").text
    first = page.partition("Any other reading")[0]
    assert re.findall(r'name="pick:ammonia.display" value="([^"]+)"', first) == ["0", "0.25", "0.5", "1", "2", "4", "8", ">8"]
    assert re.findall(r'<option value="([^"]+)">', first.partition("unit:ammonia.display")[2].partition("</select>")[0])[0] == "mg/L as NH3"  # tank.yaml says so
    assert page.index("value:ammonia.display") < page.index("Any other reading") < page.index("value:calcium.display")


def test_results_are_shown_as_understood_before_anything_is_saved(phone: Phone) -> None:
    before = phone.journal()
    page = words_of(phone.send(f"{phone.base}/test/check", key="key-of-the-form", **{"value:alkalinity.display": "160", "unit:alkalinity.display": "ppm"}).text)
    assert "160 ppm (taken as mg/L CaCO3) is" in page and "dKH" in page and "Nothing is saved yet." in page
    assert phone.journal() == before


def test_saving_writes_what_the_command_writes(phone: Phone, tmp_path: Path) -> None:
    other = copy_of("dry-rock-us", tmp_path / "other", lambda line: line[:10] < ROWS_BEFORE)
    (form,) = fields(phone.send(f"{phone.base}/test/check", **RESULTS).text, f"{phone.base}/test/save")
    page = phone.send(f"{phone.base}/test/save", **form)
    assert page.status_code == 200 and "Written" in words_of(page.text)
    ran = CliRunner().invoke(newtank, ["log", "--tank", str(other), "ammonia=0.5 mg/L as NH3", "nitrite=over5 mg/L as NO2", "--on", str(ON), "--yes"])
    assert ran.exit_code == 0, ran.output
    told = [line.rpartition(",")[0] for line in phone.journal()]
    assert told == [line.rpartition(",")[0] for line in (other / "journal.csv").read_text().splitlines()]
    assert any(",done,cycle/" in line for line in told[-3:]), "the test is ticked with it"


def test_results_that_arrive_many_times_are_written_once(phone: Phone) -> None:
    (form,) = fields(phone.send(f"{phone.base}/test/check", **RESULTS).text, f"{phone.base}/test/save")
    for _ in range(4):
        phone.send(f"{phone.base}/test/save", **form)
    assert sum(",reading,ammonia,0.5," in line and line.startswith(str(ON)) for line in phone.journal()) == 1


def test_results_that_are_sent_again_after_a_restart_are_written_once(tmp_path: Path) -> None:
    folder, memory = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < ROWS_BEFORE), tmp_path / "memory.db"
    phone = phone_for(folder, ON, memory).pair()
    (form,) = fields(phone.send(f"{phone.base}/test/check", **RESULTS).text, f"{phone.base}/test/save")
    phone.send(f"{phone.base}/test/save", **form)
    later = phone_for(folder, ON, memory, phone.watch)
    later.client.cookies = phone.client.cookies
    assert later.send(f"{later.base}/test/save", **form).status_code == 200
    assert sum(line.startswith(str(ON)) and ",reading,ammonia," in line for line in later.journal()) == 1


def test_an_improbable_result_is_asked_about(phone: Phone) -> None:
    page = words_of(phone.send(f"{phone.base}/test/check", **{"value:ph.display": "6.1", "unit:ph.display": ""}).text)
    assert "6.1 is unusual: pH is usually 7.5 to 8.7. Is that right?" in page


@pytest.mark.parametrize(("form", "said"), [
    ({"value:ammonia.display": "0,5x", "unit:ammonia.display": "mg/L as N"}, "0.5x"), ({"value:ammonia.display": "0.5", "unit:ammonia.display": ""}, "Choose what your ammonia kit counts"),
    ({"value:temperature.display": "250", "unit:temperature.display": "°F"}, "is impossible"),
])
def test_what_is_no_result_says_why_and_writes_nothing(phone: Phone, form: dict[str, str], said: str) -> None:
    before = phone.journal()
    answer = phone.send(f"{phone.base}/test/check", **form)
    assert answer.status_code == 422 and said in words_of(answer.text) and "newtank" not in words_of(answer.text) and phone.journal() == before


def test_a_comma_is_a_decimal_point(phone: Phone) -> None:
    assert "0.25 mg/L as N" in words_of(phone.send(f"{phone.base}/test/check", **{"value:ammonia.display": "0,25", "unit:ammonia.display": "mg/L as N"}).text)


def test_an_empty_form_asks_for_a_number(phone: Phone) -> None:
    assert "Enter at least one result" in words_of(phone.send(f"{phone.base}/test/check", **{"value:ammonia.display": ""}).text)


def test_a_tank_without_a_described_kit_lets_the_basis_be_chosen(tmp_path: Path) -> None:
    (tmp_path / "tank").mkdir()
    (tmp_path / "tank" / "tank.yaml").write_text("start: 2026-02-01\ntank: {volume: 100 L}\n", encoding="utf-8")
    page = phone_for(tmp_path / "tank", ON).get("/tank/tank/test").text
    options = re.findall(r'<option value="([^"]*)">', page.partition("unit:nitrite.display")[2].partition("</select>")[0])
    assert options == ["", "mg/L as N", "mg/L as NO2"]


def test_a_mistake_shows_the_same_form_with_the_number_marked_and_the_others_kept(phone: Phone) -> None:
    form = {"value:ammonia.display": "0,5x", "unit:ammonia.display": "mg/L as N", "pick:nitrite.display": "1", "unit:nitrite.display": "mg/L as N"}
    (sent, *_) = [f["form"] for f in fields(phone.get(f"{phone.base}/test").text, f"{phone.base}/test/check") if f["form"] != "others"]
    page = phone.send(f"{phone.base}/test/check", key="key-of-the-form", form=sent, next=f"{phone.base}/round", **form).text
    assert re.findall(r'name="value:([a-z.]+)" value="([^"]*)" aria-invalid="true"', page) == [("ammonia.display", "0,5x")]
    wrong = page.partition('id="wrong-ammonia.display"')[2].partition("</fieldset>")[0]
    assert 'id="wrong" role="alert"' in wrong and '<option value="mg/L as N" selected>' in wrong
    assert re.search(r'name="pick:nitrite.display" value="1" checked', page) and f'name="next" value="{phone.base}/round"' in page


@pytest.mark.parametrize(("done", "minutes"), [("start-up/top-up#2", SETTLES_MINUTES), ("site/shop-top-up", 0)])
def test_salinity_waits_for_water_that_was_topped_up_and_not_for_the_shopping_of_its_parts(done: str, minutes: int, phone: Phone) -> None:
    journal = phone.folder / "journal.csv"
    journal.write_text(journal.read_text() + f"{ON} 09:00,done,{done},,,,\n")
    told = re.findall(r"Wait (\d+) minutes after the top-up", phone.get(f"{phone.base}/test").text)
    assert set(told) == ({str(minutes)} if minutes else set())


@pytest.mark.parametrize(("when", "told", "written"), [
    ({"day": "2026-02-14"}, "Sat 14 Feb, no time given", "2026-02-14,reading,ammonia"), ({"day": "2026-02-14", "time": "08:15"}, "Sat 14 Feb, 08:15", "2026-02-14T08:15-06:00,reading,ammonia"),
    ({"day": "2026-02-15", "time": "08:15"}, "Sun 15 Feb, 08:15", "2026-02-15T08:15-06:00,reading,ammonia"),
], ids=["a day", "a day and a time", "this morning"])
def test_a_test_of_yesterday_is_written_with_its_day(phone: Phone, when: dict[str, str], told: str, written: str) -> None:
    asked = phone.get(f"{phone.base}/test").text
    assert 'name="day" value="2026-02-15" max="2026-02-15"' in asked
    answer = phone.send(f"{phone.base}/test/check", shown="2026-02-15", **RESULTS, **when)
    assert told in words_of(answer.text)
    (form,) = fields(answer.text, f"{phone.base}/test/save")
    phone.send(f"{phone.base}/test/save", **form)
    assert any(line.startswith(written) for line in phone.journal()[-4:]), phone.journal()[-4:]


def test_what_was_shown_yesterday_and_arrives_today_keeps_its_day(phone: Phone) -> None:
    (form,) = fields(phone.send(f"{phone.base}/test/check", shown="2026-02-14", day="2026-02-14", time="22:10", **RESULTS).text, f"{phone.base}/test/save")
    phone.send(f"{phone.base}/test/save", **form)
    assert any(line.startswith("2026-02-14T22:10-06:00,reading,ammonia") for line in phone.journal())


@pytest.mark.parametrize("day", ["2026-02-16", "soon"])
def test_a_test_of_tomorrow_is_refused_with_the_form(phone: Phone, day: str) -> None:
    before = phone.journal()
    answer = phone.send(f"{phone.base}/test/check", shown="2026-02-15", day=day, **RESULTS)
    assert answer.status_code == 422 and phone.journal() == before and re.search(r'name="pick:ammonia.display" value="0.5" checked', answer.text)
    assert ("has not come yet" if day[:1] == "2" else "soon") in words_of(answer.text)


@pytest.mark.parametrize(("entered", "told", "row"), [
    ({"pick:nitrite.display": "2", "sample:nitrite.display": "5"}, "10 mg/L as NO2 The diluted sample read 2, times 5.", "nitrite,10,mg/L as NO2,display,\"diluted, times 5, read 2"),
    ({"pick:nitrite.display": ">5", "sample:nitrite.display": "10"}, "over 50 mg/L as NO2 The diluted sample read over 5, times 10.", "nitrite,>50,mg/L as NO2,display,\"diluted, times 10, read over 5"),
    ({"value:nitrite.display": "0,75", "sample:nitrite.display": "2"}, "1.5 mg/L as NO2 The diluted sample read 0.75, times 2.", "nitrite,1.5,mg/L as NO2,display,\"diluted, times 2, read 0.75"),
], ids=["a field of the card", "off the card", "between two fields"])
def test_a_diluted_sample_counts_as_often_as_it_was_thinned(phone: Phone, entered: dict[str, str], told: str, row: str) -> None:
    answer = phone.send(f"{phone.base}/test/check", **{"unit:nitrite.display": "mg/L as NO2"}, **entered)
    assert told in words_of(answer.text)
    (form,) = fields(answer.text, f"{phone.base}/test/save")
    phone.send(f"{phone.base}/test/save", **form)
    assert any(row in line for line in phone.journal()), phone.journal()[-3:]


def test_nothing_in_a_diluted_sample_is_no_zero_of_the_tank(phone: Phone) -> None:
    before = phone.journal()
    answer = phone.send(f"{phone.base}/test/check", **{"unit:nitrite.display": "mg/L as NO2", "pick:nitrite.display": "0", "sample:nitrite.display": "5"})
    assert answer.status_code == 422 and "Test the water undiluted." in words_of(answer.text) and phone.journal() == before
    assert 'value="5" selected' in answer.text.partition('name="sample:nitrite.display"')[2].partition("</select>")[0]


def test_a_reading_that_nobody_dilutes_has_no_such_choice_and_a_counted_one_no_card(phone: Phone) -> None:
    page = phone.get(f"{phone.base}/test").text
    assert 'name="sample:nitrite.display"' in page and 'name="sample:ph.display"' not in page and 'name="sample:alkalinity.display"' not in page
    assert 'name="pick:alkalinity.display"' not in page, "drops are counted: there is no card to choose a field of"


@pytest.fixture
def beyond_the_card(phone: Phone) -> Phone:
    """The same tank after nitrite lay beyond the end of its kit's card, on the day after."""
    journal = phone.folder / "journal.csv"
    journal.write_text(journal.read_text("utf-8") + "2026-02-14T19:00-06:00,reading,nitrite,>5,mg/L as NO2,display,\n", encoding="utf-8")
    return phone


def _sample(page: str, reading: str) -> list[str]:
    return re.findall(r'value="(\d*)" selected', page.partition(f'name="sample:{reading}.display"')[2].partition("</select>")[0])


def test_a_diluted_test_has_its_sample_chosen_and_nobody_is_told_to_multiply_what_the_form_multiplies(beyond_the_card: Phone) -> None:
    phone = beyond_the_card
    page, today = phone.get(f"{phone.base}/test").text, phone.words(phone.base)
    assert _sample(page, "nitrite") == ["5"] and _sample(page, "ammonia") == []
    assert "The form multiplies, so do not." in words_of(page)
    for said in (words_of(page), today, phone.words(f"{phone.base}/round?off=1")):
        assert "four parts of pure water" not in said or not re.search(r"(log|write|note) (five|ten) times|multiply by", said), said
    (form,) = [f for f in fields(page, f"{phone.base}/test/check") if f.get("form") != "others"][:1]
    answer = phone.send(f"{phone.base}/test/check", **form, **{"pick:nitrite.display": "2", "unit:nitrite.display": "mg/L as NO2", "sample:nitrite.display": "5"})
    assert "10 mg/L as NO2" in words_of(answer.text)


def test_the_round_chooses_the_sample_too(beyond_the_card: Phone) -> None:
    phone, handled = beyond_the_card, list[str]()
    for _ in range(30):
        page = phone.get(f"{phone.base}/round?handled={','.join(handled)}").text
        if 'name="sample:nitrite.display"' in page:
            assert _sample(page, "nitrite") == ["5"]
            return
        (key,) = re.findall(r'href="[^"]*handled=([^"&]*)[^"]*"', page)[:1]
        handled = key.replace("%2C", ",").replace("%2F", "/").replace("%23", "#").split(",")
    raise AssertionError("the round never came to the test")


OTHERS = {"form": "others", "key": "key-of-other-readings"}


def test_any_other_reading_asks_whether_a_sample_was_diluted_once_the_card_was_too_small(beyond_the_card: Phone) -> None:
    phone = beyond_the_card
    journal = phone.folder / "journal.csv"
    journal.write_text(journal.read_text("utf-8") + f"{ON},reading,nitrate,>160,mg/L as NO3,display,\n", encoding="utf-8")
    others = phone.get(f"{phone.base}/test").text.partition("Any other reading")[2]
    options = others.partition('name="sample:nitrate.display"')[2].partition("</select>")[0]
    assert '<option value="choose">' in options and "selected" not in options
    sent = {"pick:nitrate.display": "10", "unit:nitrate.display": "mg/L as NO3", "water": "display", **OTHERS}
    before = phone.journal()
    answer = phone.send(f"{phone.base}/test/check", **sent, **{"sample:nitrate.display": "choose"})
    assert answer.status_code == 422 and "Was the sample diluted? Choose tank water, or how it was mixed." in words_of(answer.text) and phone.journal() == before
    assert "50 mg/L as NO3 The diluted sample read 10, times 5." in words_of(phone.send(f"{phone.base}/test/check", **sent, **{"sample:nitrate.display": "5"}).text)
    assert "10 mg/L as NO3" in words_of(phone.send(f"{phone.base}/test/check", **sent, **{"sample:nitrate.display": ""}).text)


def test_any_other_reading_is_of_the_tank_unless_another_water_is_tested_too(phone: Phone) -> None:
    def chosen() -> list[str]:
        return re.findall(r'value="(\w*)"(?: selected)?>', phone.get(f"{phone.base}/test").text.partition('name="water"')[2].partition("</select>")[0])[:1]

    assert chosen() == ["display"]
    journal = phone.folder / "journal.csv"
    journal.write_text(journal.read_text("utf-8") + "2026-02-14,added,amphiprion-ocellaris,1,,quarantine,\n", encoding="utf-8")
    assert chosen() == [""]
    sent = {"value:calcium.display": "420", "unit:calcium.display": "mg/L", **OTHERS}
    asked = phone.send(f"{phone.base}/test/check", water="", **sent)
    assert asked.status_code == 422 and "Which water was it?" in words_of(asked.text) and 'value="420"' in asked.text
    (form,) = fields(phone.send(f"{phone.base}/test/check", water="quarantine", **sent).text, f"{phone.base}/test/save")
    phone.send(f"{phone.base}/test/save", **form)
    assert any(",reading,calcium,420,mg/L,quarantine," in line for line in phone.journal())


def test_a_result_off_the_card_is_called_by_one_name(beyond_the_card: Phone) -> None:
    phone = beyond_the_card
    test, readings = (words_of(re.sub(r'="[^"]*"', "", phone.get(f"{phone.base}/{page}").text)) for page in ("test", "filter"))
    assert "Last time: over 5 mg/L as NO2" in test and "over 5 mg/L as NO2 over 5 mg/L as NO2" in readings
    found = re.search(r"[<>]\s*\d", test + readings)
    assert found is None, (test + readings)[found.start() - 80 : found.end() + 40]
