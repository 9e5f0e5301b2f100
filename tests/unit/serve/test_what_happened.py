"""Emergency and other facts: one touch away, readable by anybody, and written like the command writes them."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from planner.door.folder import read_rules
from planner.serve.asking import Site
from planner.serve.markup import Writer
from planner.serve.memory import Memory
from planner.serve.tanks import Seen
from planner.show.terminal.eventlist import events_told
from planner.terms.texts import Command, Either, Text, either, joined, on_day
from tests.unit.serve.site import HOST, Phone, Watch, client_of, copy_of, fields, rules, words_of

ON = date(2026, 2, 13)


def test_it_is_one_touch_away_from_every_page(phone: Phone) -> None:
    from planner.serve.app import PAGES

    shown = [p.path for p in PAGES if p.show is not None and p.path.startswith("/tank/") and "{" not in p.path.replace("{slug}", "")]
    assert len(shown) >= 5
    for path in shown:
        text = phone.get(path.replace("{slug}", phone.base.removeprefix("/tank/"))).text
        assert "<html" not in text or f'class="urgent" href="{phone.base}/emergency"' in text


def test_anybody_may_read_what_to_do(phone: Phone) -> None:
    page = phone.another().words(f"{phone.base}/emergency")
    assert "People first." in page and "Touch neither the person nor the wet floor" in page and "Water on the floor" in page


def test_what_to_do_stands_there_also_while_the_tank_file_cannot_be_read(phone: Phone) -> None:
    whole = phone.words(f"{phone.base}/emergency")
    (phone.folder / "tank.yaml").write_text("tank: [", encoding="utf-8")
    page = phone.words(f"{phone.base}/emergency")
    for said in ("Touch neither the person nor the wet floor", "With dry hands and dry feet, switch off the tank's circuit", "Rinse an eye with running tap water for 20 minutes", "Call the poison centre"):
        assert said in whole and said in page
    assert "The tank’s files cannot be read now" in page and "(not known yet)" in page and "newtank note" not in page and "Write it down" not in page


def test_every_event_of_the_rules_can_be_written_down(phone: Phone) -> None:
    page = phone.get(f"{phone.base}/emergency").text
    assert all(f"happened?what={event}" in page for event, _ in events_told(rules().book) if event != "bought")


def test_a_leak_is_written_and_today_begins_with_it(phone: Phone) -> None:
    (form,) = fields(phone.get(f"{phone.base}/happened?what=leak").text, f"{phone.base}/happened")
    page = phone.send(f"{phone.base}/happened", **form).text
    assert ",event,leak," in phone.journal()[-1]
    assert 'class="alarms"' in page and page.index('class="alarms"') < page.index('id="jobs"')


def test_looking_at_an_event_writes_nothing(phone: Phone) -> None:
    before = phone.journal()
    phone.get(f"{phone.base}/happened?what=leak")
    assert phone.journal() == before


def test_a_failed_check_is_written_with_its_job(phone: Phone) -> None:
    (form,) = fields(phone.get(f"{phone.base}/failed?job=leak-test/watch").text, f"{phone.base}/failed")
    phone.send(f"{phone.base}/failed", **form, remark="a drop below the left pane")
    assert ",event,failed," in phone.journal()[-1] and "leak-test/watch a drop below the left pane" in phone.journal()[-1]


@pytest.mark.parametrize(("form", "row"), [
    ({"kind": "changed_water", "value": "20 L"}, ",changed_water,water,20,L,display"), ({"kind": "dosed", "what": "bicarbonate", "value": "4 g"}, ",dosed,bicarbonate,4,g,display"),
], ids=["a change", "a dose"])
def test_other_facts_are_written(phone: Phone, form: dict[str, str], row: str) -> None:
    phone.send(f"{phone.base}/fact", key="key-of-a-fact", sure="yes", **form)
    assert row in phone.journal()[-1]


def test_an_animal_that_nobody_knows_is_not_written(phone: Phone) -> None:
    before = phone.journal()
    assert "We do not know “unicorn”" in words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="added", what="unicorn", value="1").text) and phone.journal() == before


def test_animals_before_their_time_are_written_and_said(phone: Phone) -> None:
    page = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="added", what="ocellaris clownfish", value="2", sure="yes").text)
    assert ",added,amphiprion-ocellaris,2," in phone.journal()[-1] and "its water has not passed the tests" in page


def test_a_remark_is_no_formula_and_no_markup(phone: Phone) -> None:
    phone.send(f"{phone.base}/happened", key="key-of-a-leak", what="leak", remark='=cmd|"/c calc"!A0<script>alert(1)</script>\r\n2026-02-13,added,shark,1')
    assert phone.journal()[-1].count("2026-02-13") == 2 and "'=cmd" in phone.journal()[-1] and ",event,leak," in phone.journal()[-1]
    assert "<script>alert" not in phone.get(phone.base).text


OWN_ALARM = """alerts:
  - alert: pane-scratched
    title: A pane is scratched
    when: {event: {what: pane_scratched, ended_by: pane-scratched/look}}
    say: Look at it.
    tasks:
      - id: look
        title: Look at the scratch
        role: remedy
        steps:
          - {text: Ask us about the rock., unless: {tank: {key: rock.kind, is: [dry]}}}
          - {text: Ask us about the water., unless: {tank: {key: water.source, is: [tap]}}}
        watch:
          - {text: Mind the stand., unless: {tank: {key: rock.kind, is: [dry]}}}
"""


def test_what_to_do_leaves_out_what_the_description_of_the_tank_rules_out(tmp_path: Path) -> None:
    (tmp_path / "house/alerts").mkdir(parents=True)
    (tmp_path / "house/alerts/ours.yaml").write_text(OWN_ALARM, encoding="utf-8")
    folder = copy_of("dry-rock-us", tmp_path / "tank", lambda line: line[:10] < str(ON))
    site = Site.of(folder, read_rules(tmp_path / "house"), Memory(None, Watch()), "", (HOST,), Watch().now, ON)
    phone = Phone(site, client_of(site), Watch())
    html = phone.get(f"{phone.base}/happened?what=pane_scratched").text
    assert "Ask us about the water." in html and "the rock" not in html and "Mind the stand" not in html and "<li></li>" not in html and "Watch:</strong> <" not in html


@pytest.mark.parametrize(("event", "said"), [
    ("palytoxin", "Rinse an eye or skin that was hit at once"), ("chemical_splash", "Rinse"), ("heater_off", "Watch"), ("leak", "Wet floor"),
], ids=["palytoxin", "an eye", "a cold heater", "a leak"])
def test_what_to_do_stands_before_writing_it_down(phone: Phone, event: str, said: str) -> None:
    """As for the great emergencies: whoever was hit reads how to rinse before he types a remark."""
    page = phone.words(f"{phone.base}/happened?what={event}")
    alert = next(a for a in rules().book.alerts if a.alert == event.replace("_", "-"))
    first = alert.tasks[0].steps[0].split(". ")[0]
    if "{" not in str(first):
        assert str(first).split("{")[0] in page
    assert said in page and page.index(said) < page.index("It happened") and page.index("Then write it down") > page.index(said)


def test_a_power_cut_shows_the_first_steps_of_the_alarm_that_it_raises_here(phone: Phone) -> None:
    """This tank has no animals yet, so there are none to keep breathing."""
    page = phone.get(f"{phone.base}/happened?what=power_cut").text
    assert page.count("<ol>") == 1
    empty, stocked = (next(a for a in rules().book.alerts if a.alert == f"power-cut-{x}") for x in ("empty", "stocked"))
    said = words_of(page)
    assert str(empty.say)[:20] in said and str(stocked.say)[:20] not in said


def test_the_door_of_a_poisoning_names_what_a_keeper_saw(phone: Phone) -> None:
    assert "A polyp squirted (zoa, palythoa): eye, skin, steam" in phone.words(f"{phone.base}/emergency")


@pytest.mark.parametrize("event", [e for e, _ in events_told(rules().book) if any(a.place == "people" and a.alert == e.replace("_", "-") for a in rules().book.alerts)])
def test_the_first_steps_for_people_stand_on_the_emergency_page_itself(phone: Phone, event: str) -> None:
    """It is the page that a phone keeps for when the network is gone."""
    alert = next(a for a in rules().book.alerts if a.alert == event.replace("_", "-"))
    page = phone.words(f"{phone.base}/emergency")
    plain = [str(s) for s in alert.tasks[0].steps if "{" not in str(s) and "[" not in str(s)]
    assert plain and all(" ".join(s.split())[:60] in page for s in plain)


@pytest.mark.parametrize(("said", "event"), [("heater broken", "heater_off"), ("zoa squirted in my eye", "palytoxin"), ("power is out", "power_cut"), ("My fish gasps", "gasping")])
def test_an_event_is_found_by_a_sentence_without_a_script(phone: Phone, said: str, event: str) -> None:
    page = phone.get(f"{phone.base}/emergency", params={"said": said}).text
    found = page.partition('class="events found"')[2].partition("</ul>")[0]
    assert f"happened?what={event}" in found


def test_a_sentence_that_speaks_of_danger_is_answered_with_help_first(phone: Phone) -> None:
    page = phone.get(f"{phone.base}/emergency", params={"said": "zoa squirted in my eye"}).text
    assert page.index("call the emergency number first.") < page.index('class="events found"')
    assert "shares a word" in phone.get(f"{phone.base}/emergency", params={"said": "xyzzy<script>"}).text and "xyzzy<script>" not in phone.get(f"{phone.base}/emergency", params={"said": "xyzzy<script>"}).text


def test_animals_in_a_tank_that_is_not_open_are_asked_about_first(phone: Phone) -> None:
    before = phone.journal()
    answer = phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="added", what="ocellaris clownfish", value="2")
    assert "The tank is not open. Are they really in it?" in words_of(answer.text) and phone.journal() == before
    (form,) = fields(answer.text, f"{phone.base}/fact")
    page = words_of(phone.send(f"{phone.base}/fact", **form).text)
    assert ",added,amphiprion-ocellaris,2," in phone.journal()[-1]
    assert "newtank " not in page and "`" not in page and "today’s page says what to do" in page


def test_animals_in_the_quarantine_tank_are_not_asked_about(phone: Phone) -> None:
    phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="added", what="ocellaris clownfish", value="2", where="quarantine")
    assert ",added,amphiprion-ocellaris,2,," in phone.journal()[-1]


@pytest.mark.parametrize(("said", "shown"), [
    (joined("It is written; ", either("`newtank today`", "today’s page"), " says what to do."), "It is written; today’s page says what to do."), (joined("Over.", either(" Run `newtank plan`.", "")), "Over."),
    (Text("Note it", (Either(("Note ", Command("note", "leak", "", "")), ("Write",)),)), 'Note it <a href="/tank/a/happened?what=leak">here</a>'), ("Write `<12 L>`.", "Write <code>&lt;12\u00a0L&gt;</code>."),
    (on_day(date(2027, 1, 2), "on "), "on 2\u00a0Jan\u00a02027"), (on_day(date(2026, 3, 4)), "4\u00a0Mar"),
], ids=["other words", "left out", "a link", "letter by letter", "a day of another year", "a day"])
def test_what_is_said_for_a_keyboard_is_said_in_another_way_on_a_page(said: str, shown: str, phone: Phone) -> None:
    seen = phone.site.tanks.look(phone.site.tanks.find()[0])
    assert isinstance(seen, Seen) and str(Writer(seen.folder, "/tank/a").html(said)).replace("\u00a0", " ") == shown.replace("\u00a0", " ")


@pytest.mark.parametrize(("form", "field"), [
    ({"kind": "added", "what": "unicorn", "value": "3", "where": "quarantine"}, "what"), ({"kind": "changed_water", "value": "much"}, "value"), ({"kind": "dosed", "what": "bicarbonate", "value": "4 furlongs"}, "value"),
    ({"kind": "poured", "what": "water", "value": "2"}, "value"),
], ids=["an animal", "a change", "a dose", "water without a unit"])
def test_a_mistake_shows_the_same_form_with_its_field_marked(phone: Phone, form: dict[str, str], field: str) -> None:
    answer = phone.send(f"{phone.base}/fact", key="key-of-a-fact", **form)
    assert answer.status_code == 422
    (marked,) = re.findall(r'<input name="(\w+)" value="([^"]*)" aria-invalid="true" aria-describedby="wrong"', answer.text)
    assert marked == (field, form[field])
    (folded,) = re.findall(r'<details class="fold" open>(.*?)</details>', answer.text, re.DOTALL)
    assert 'id="wrong"' in folded and f'name="kind" value="{form["kind"]}"' in folded
    assert form.get("where") is None or '<option value="quarantine" selected>' in folded


@pytest.mark.parametrize(("form", "said"), [
    ({"kind": "changed_water", "value": "5 gal"}, "Written Water changed: 5 gal"), ({"kind": "lost", "what": "ocellaris clownfish", "value": "1", "sure": "yes"}, "Written Died: 1 x ocellaris clownfish"),
    ({"kind": "dosed", "what": "bicarbonate", "value": "4 g"}, "Written Dosed: bicarbonate 4 g"), ({"kind": "changed_water", "value": "5 gal", "shown": "2026-02-13", "day": "2026-02-12"}, "Written Water changed: 5 gal, Thu 12 Feb"),
], ids=["a change", "a loss", "a dose", "a change of yesterday"])
def test_a_fact_is_told_as_a_keeper_speaks_of_it(phone: Phone, form: dict[str, str], said: str) -> None:
    assert said in words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", **form).text)


def test_a_failed_check_is_told_by_its_title_and_an_unknown_animal_by_names_near_it(phone: Phone) -> None:
    assert "Written Failed: Watch the full tank for 48 h" in words_of(phone.send(f"{phone.base}/failed", key="key-of-a-fact", job="leak-test/watch", remark="drips").text).replace("h ours", "hours")
    said = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="added", what="clown goby", value="1").text)
    assert not re.search(r"It may be [^.]*[a-z]-[a-z]", said)


def test_an_animal_is_asked_about_by_its_name(phone: Phone) -> None:
    said = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="lost", what="false percula", value="1").text)
    assert "The journal knows of no ocellaris clownfish in the display. Did it live there?" in said


@pytest.mark.parametrize(("what", "row", "more"), [("water", ",poured,water,2,gal,display", True), ("fresh", ",poured,fresh,2,gal,display", False)])
def test_salt_water_makes_the_tank_larger_and_a_top_up_does_not(phone: Phone, what: str, row: str, more: bool) -> None:
    page = phone.get(f"{phone.base}/more").text
    assert "mixed salt water: the tank holds more" in page and "pure water: a top-up" in page
    said = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", sure="yes", kind="poured", what=what, value="2 gal").text)
    assert row in phone.journal()[-1] and ("The tank counts as" in said) is more


def test_it_is_asked_which_water_was_poured_in(phone: Phone) -> None:
    before = phone.journal()
    answer = phone.send(f"{phone.base}/fact", key="key-of-a-fact", sure="yes", kind="poured", value="2 gal")
    assert answer.status_code == 422 and "Which water was it?" in words_of(answer.text) and phone.journal() == before


def test_a_us_page_speaks_of_gallons_when_it_doubts(phone: Phone) -> None:
    said = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", kind="changed_water", value="500 gal").text)
    assert "500 gal is 8.2 times what this water holds (61 gal). Write it all the same?" in said and not re.search(r"\d L\b", said)


def test_an_example_that_is_shown_can_be_written_as_it_stands(phone: Phone) -> None:
    page = phone.get(f"{phone.base}/more").text
    for kind, said in (("changed_water", "5 gal"), ("poured", "0.5 gal")):
        assert f"such as {said}" in page
        assert phone.send(f"{phone.base}/fact", follow=False, key=f"key-{kind}", sure="yes", kind=kind, what="fresh", value=said).status_code == 303


def test_that_no_date_moved_is_a_sentence(phone: Phone) -> None:
    said = words_of(phone.send(f"{phone.base}/fact", key="key-of-a-fact", sure="yes", kind="poured", what="fresh", value="0.5 gal").text)
    assert "Moved Nothing" not in said and ("No date moved." in said or "Moved" in said)


def test_a_slipped_zero_is_asked_about_in_the_words_of_the_command_and_written_if_it_is_meant(phone: Phone) -> None:
    from click.testing import CliRunner

    from planner.cli import newtank

    before = phone.journal()
    for kind, what, value in (("dosed", "magnesium", "5000 mg/L"), ("dosed", "bicarbonate", "20 lb"), ("poured", "fresh", "30 gal"), ("dosed", "food", "300 g")):
        page = phone.send(f"{phone.base}/fact", key=f"key-of-{what}", kind=kind, what=what, value=value).text
        (question,) = re.findall(r"[^.?>]*times [^?]*\. Write it all the same\?", words_of(page))
        command = CliRunner().invoke(newtank, ["note", str(phone.folder), kind, what, value, "--on", str(ON)])
        assert command.exit_code == 2 and question.strip().partition("That")[0] in " ".join(command.output.split()) and phone.journal() == before
        form, corrected = fields(page, f"{phone.base}/fact")
        assert "value" not in corrected and "sure" not in corrected, "the amount may be typed anew there"
        phone.send(f"{phone.base}/fact", **form)
        assert len(phone.journal()) == len(before) + 1 and f",{kind},{what}," in phone.journal()[-1]
        before = phone.journal()


def test_an_alarm_leads_to_each_job_that_it_asks_for(phone: Phone) -> None:
    (form,) = fields(phone.get(f"{phone.base}/happened?what=leak").text, f"{phone.base}/happened")
    page = phone.send(f"{phone.base}/happened", **form).text
    box = page.partition('class="alarms"')[2].partition("</section>")[0]
    led_to = re.findall(r'href="#(job-\d+)"', box)
    seen = phone.site.tanks.look(phone.site.tanks.find()[0])
    assert isinstance(seen, Seen)
    assert led_to == [f"job-{j.number}" for j in seen.day.jobs if j.task.phase == "leak" and j.standing == "open"] != []
    assert all(f'id="{job}"' in page for job in led_to)


def test_a_slip_of_the_amount_is_corrected_where_it_is_asked_about(phone: Phone) -> None:
    before = phone.journal()
    _, form = fields(phone.send(f"{phone.base}/fact", key="key-of-a-slip", kind="dosed", what="magnesium", value="500 mg/L").text, f"{phone.base}/fact")
    phone.send(f"{phone.base}/fact", **form, value="50 mg/L")
    assert len(phone.journal()) == len(before) + 1 and ",dosed,magnesium,50,mg/L," in phone.journal()[-1]
