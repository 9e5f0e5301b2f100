"""What a keeper does with wet hands: pair, tick, undo, enter a test, with a script and without, over a lost network, by touch and by keyboard alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

expect = pytest.importorskip("playwright.sync_api", reason="the browser tier is left out: playwright is not installed").expect

from tests.browser.conftest import Served, picture  # noqa: E402


def test_a_photographed_code_pairs_the_phone(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served, paired=False)
    page.goto(f"{served.address}/pair#{served.code}")
    assert page.input_value("#code") == served.code and page.url.endswith("/pair"), "the code does not stay in the address"
    page.tap("main button[type=submit]")
    page.wait_for_selector("nav.ways")
    assert len(served.phone.site.memory.devices()) == 1


@pytest.mark.parametrize("script", [True, False], ids=["with a script", "without"])
def test_a_job_is_ticked_and_taken_back(served: Served, open_page: Callable[..., Any], script: bool) -> None:
    page = open_page(served, java_script_enabled=script)
    page.goto(served.base)
    before = page.locator("ol.jobs > .job").count()
    page.locator("form[data-keep=tick] > button.tick").first.tap()
    page.wait_for_selector("section.did")
    assert served.rows(",done,") == 1 and page.locator("ol.jobs > .job").count() == before - 1
    picture(page, f"ticked-{'script' if script else 'plain'}")
    page.locator("section.did button.back").first.tap()
    expect(page.locator("ol.jobs > .job")).to_have_count(before)


@pytest.mark.parametrize("script", [True, False], ids=["with a script", "without"])
def test_a_test_is_entered_on_the_card(served: Served, open_page: Callable[..., Any], script: bool) -> None:
    page = open_page(served, java_script_enabled=script)
    page.goto(f"{served.base}/test")
    test = page.locator("section.test:has([name='pick:ammonia.display'])").first
    test.locator("label.pick:has([name='pick:ammonia.display'][value='0.5'])").tap()
    test.locator("label.pick:has([name='pick:nitrite.display'][value='>5'])").tap()
    test.locator("button.tick").tap()
    page.wait_for_selector("text=Is this right?")
    assert "over 5" in page.inner_text("main") and served.rows(",reading,") == 0
    picture(page, f"check-{'script' if script else 'plain'}")
    page.locator("main button.tick").tap()
    page.wait_for_selector("section.did")
    assert served.rows(",reading,ammonia,0.5,") == 1 and served.rows(",reading,nitrite,>5,") == 1


def test_the_number_pad_types(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(f"{served.base}/test")
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    field = page.locator("fieldset:has([name='value:alkalinity.display'])").first
    field.get_by_role("button", name="Number pad: alkalinity").tap()
    for key in ("7", ".", "5", "9"):
        field.locator(".pad button", has_text=key).first.tap()
    field.get_by_role("button", name="Take the last digit away").tap()
    assert field.locator("input[data-pad]").input_value() == "7.5"
    picture(page, "pad")


def test_a_tick_without_a_network_is_kept_and_sent_once_when_it_is_back(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(served.base)
    page.context.set_offline(True)
    page.locator("form[data-keep=tick] > button.tick").first.tap()
    page.wait_for_selector("#kept:not([hidden])")
    assert "will be sent by itself" in page.inner_text("#kept") and served.rows(",done,") == 0
    picture(page, "offline-tick")
    page.context.set_offline(False)
    page.wait_for_selector("section.did", timeout=20_000)
    assert served.rows(",done,") == 1 and page.locator("#kept").is_hidden()


def test_a_tick_of_a_device_that_is_not_paired_says_what_it_waits_for(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served, paired=False)
    page.goto(served.base)
    page.locator("form[data-keep=tick] > button.tick").first.tap()
    page.wait_for_url("**/pair*")
    page.wait_for_selector("#kept:not([hidden])")
    page.wait_for_timeout(1500)
    assert page.inner_text("#kept") == "Pair this device, then what is kept here is sent." and served.rows(",done,") == 0


def test_a_result_whose_answer_was_lost_is_written_once(served: Served, open_page: Callable[..., Any]) -> None:
    """The server wrote it; the phone never heard so, and sends again."""
    page = open_page(served)
    page.goto(f"{served.base}/test")
    page.locator("label.pick:has([name='pick:ammonia.display'][value='1'])").first.tap()
    page.locator("section.test:has([name='pick:ammonia.display']) button.tick").first.tap()
    page.wait_for_selector("text=Is this right?")

    def lose(route: Any) -> None:
        route.fetch(max_redirects=0)
        route.abort()

    page.route("**/test/save", lose, times=1)
    page.locator("main button.tick").tap()
    page.wait_for_selector("#kept:not([hidden])")
    assert served.rows(",reading,ammonia,1,") == 1
    page.reload()
    page.wait_for_selector("section.did", timeout=20_000)
    assert served.rows(",reading,ammonia,1,") == 1 and page.evaluate("localStorage.getItem('newtank kept')") == "[]"


def test_numbers_typed_without_a_network_stay_over_a_reload(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(f"{served.base}/test")
    form = page.locator("section.test:has([name='pick:ammonia.display'])").first
    form.locator("label.pick:has([name='pick:ammonia.display'][value='2'])").tap()
    page.context.set_offline(True)
    form.locator("button.tick").tap()
    page.wait_for_selector("#kept:not([hidden])")
    assert "Your numbers stay on this page" in page.inner_text("#kept")
    page.context.set_offline(False)
    page.reload()
    assert page.locator("[name='pick:ammonia.display'][value='2']").first.is_checked()
    page.locator("section.test:has([name='pick:ammonia.display']) button.tick").first.tap()
    page.wait_for_selector("text=Is this right?")
    assert served.rows(",reading,") == 0, "it is shown as understood before it is saved, also then"


def test_the_emergency_page_opens_without_a_network(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(served.base)
    page.wait_for_function("name => !!localStorage.getItem(name)", arg=f"newtank emergency {served.phone.base}")
    page.context.set_offline(True)
    page.tap("a.urgent")
    page.wait_for_selector("text=People first.")
    assert "Water on the floor" in page.inner_text("main")


def test_a_tick_by_keyboard_alone(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served, 1280)
    page.goto(served.base)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('form[data-keep=tick] > button.tick')"):
            break
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none", "where the keyboard is can be seen"
    page.keyboard.press("Enter")
    page.wait_for_selector("section.did")
    assert served.rows(",done,") == 1


def test_an_unpaired_phone_is_led_to_pairing_and_its_tick_is_sent_afterwards(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served, paired=False)
    page.goto(served.base)
    page.locator("form[data-keep=tick] > button.tick").first.tap()
    page.wait_for_selector("#code")
    page.fill("#code", served.code)
    page.tap("main button[type=submit]")
    page.wait_for_selector("nav.ways")
    assert len(served.phone.site.memory.devices()) == 1
    expect(page.locator("section.did")).to_be_visible(timeout=20_000)
    assert served.rows(",done,") == 1


def test_a_job_stands_on_the_first_screen(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(served.base)
    assert page.locator(".job .title").first.bounding_box()["y"] < 844


def test_the_first_step_of_first_aid_stands_on_the_first_screen(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(f"{served.base}/happened?what=palytoxin")
    assert page.locator(".atonce li").first.bounding_box()["y"] < 844
    page.locator("main button.tick").tap()
    page.wait_for_selector(".alarms")
    picture(page, "390-danger")
    assert page.locator(".job .steps li").first.bounding_box()["y"] < 844


def test_a_tick_without_a_network_leaves_the_title_its_width(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(served.base)
    before = page.locator(".job .title").first.bounding_box()["width"]
    page.context.set_offline(True)
    page.locator("form[data-keep=tick] > button.tick").first.tap()
    page.wait_for_selector(".waiting")
    picture(page, "390-waiting")
    assert page.locator(".job:has(.waiting) .title").bounding_box()["width"] >= before


def test_the_emergency_page_without_a_network_has_the_steps_for_people(served: Served, open_page: Callable[..., Any]) -> None:
    page = open_page(served)
    page.goto(served.base)
    page.wait_for_function("name => !!localStorage.getItem(name)", arg=f"newtank emergency {served.phone.base}")
    page.context.set_offline(True)
    page.tap("a.urgent")
    page.tap("summary:has-text('A polyp squirted')")
    assert page.locator("text=Rinse an eye or skin that was hit at once").is_visible()


@pytest.mark.parametrize(("button", "left"), [("Use it", "0,5x"), ("Throw it away", "")])
def test_a_refused_number_is_offered_on_a_later_visit_with_its_time(served: Served, open_page: Callable[..., Any], button: str, left: str) -> None:
    page = open_page(served)
    page.goto(f"{served.base}/test")
    page.locator("section.test [name='value:ammonia.display']").fill("0,5x")
    page.locator("section.test:has([name='value:ammonia.display']) button.tick").tap()
    page.wait_for_selector("[aria-invalid]")
    assert page.input_value("[aria-invalid]") == "0,5x" and page.locator("p.draft").count() == 0
    page.goto(served.base)
    page.goto(f"{served.base}/test")
    field, offer = page.locator("section.test [name='value:ammonia.display']"), page.locator("p.draft")
    expect(offer).to_have_text(re.compile(r"^Kept from [0-9]{2}:[0-9]{2}\. "))
    assert field.input_value() == "", "nothing is filled in unasked"
    offer.locator(f"text={button}").tap()
    assert field.input_value() == left and offer.count() == 0
    page.goto(f"{served.base}/test")
    assert page.locator("p.draft").count() == (1 if left else 0)


@pytest.mark.parametrize("script", [True, False], ids=["with a script", "without"])
def test_a_diluted_test_of_yesterday_is_entered_by_touch(served: Served, open_page: Callable[..., Any], script: bool) -> None:
    page = open_page(served, 320, java_script_enabled=script)
    page.goto(f"{served.base}/test")
    test = page.locator("section.test:has([name='pick:nitrite.display'])").first
    test.locator("label.pick:has([name='pick:nitrite.display'][value='2'])").tap()
    test.locator("select[name='sample:nitrite.display']").select_option("5")
    test.locator("details.when > summary").tap()
    test.locator("input[name=day]").fill("2026-02-14")
    test.locator("input[name=time]").fill("20:15")
    test.locator("button.tick").tap()
    page.wait_for_selector("text=Is this right?")
    told = page.inner_text("main")
    assert "Sat 14 Feb, 20:15" in told and "The diluted sample read 2, times 5." in told
    picture(page, f"yesterday-{'script' if script else 'plain'}")
    page.locator("main button.tick").tap()
    page.wait_for_selector("section.did")
    assert any(line.startswith("2026-02-14T20:15") and ",reading,nitrite,10," in line for line in served.phone.journal())
