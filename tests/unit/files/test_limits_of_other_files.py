"""The calendar log, plain files, the tank file and YAML, on both sides of each limit. Contract of this project; limits are common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, timedelta
from pathlib import Path

import pytest

from planner.files.calendar_log import Exported, ExportLog, line_from_row, row_from_line
from planner.files.journal import HEADER, read_journal
from planner.files.read_file import FileRefused, read_plain_file
from planner.files.tank import known_paths, read_tank, tank_value
from planner.files.yaml_tree import decode_text, line_of, read_yaml
from tests.unit.files.test_calendar_log import NOW, ROW
from tests.unit.files.test_journal import ION_KIT
from tests.unit.files.test_limits_of_files import DAY

# --- the calendar log


@pytest.mark.parametrize(
    ("changes", "sound"),
    [({}, True), ({"sequence": 0}, True), ({"sequence": -1}, False), ({"sequence": 2**31 - 1}, True), ({"sequence": 2**31}, False), ({"minutes": 0}, False), ({"minutes": 1}, True), ({"start": "2026-03-10", "minutes": 0}, True), ({"start": "2026-03-10", "minutes": 30}, False), ({"start": "2026-03-10 18:00", "minutes": 30}, False),
     ({"start": "2026-03-10 25:00 Europe/Berlin"}, False), ({"start": "2026-02-30 18:00 Europe/Berlin"}, False), ({"state": "other"}, False), ({"state": "cancelled"}, True), ({"uid": ""}, False), ({"digest": "0" * 15}, False), ({"digest": "0" * 17}, False), ({"start": "2026-03-10", "minutes": -1}, False), ({"earliest": None}, True), ({"latest": date(2026, 3, 9)}, True)],
)
def test_a_row_of_the_log_is_sound_or_none(changes: dict[str, object], sound: bool) -> None:
    made = replace(ROW, **changes)  # type: ignore[arg-type]
    assert row_from_line(line_from_row(made)) == (made if sound else None)


@pytest.mark.parametrize("title", ["=1", "'=1", "''=1", "'plain", "plain", "@x", "-x", "+x", "'"])
def test_a_title_comes_back_and_is_no_formula_in_between(title: str) -> None:
    line = line_from_row(replace(ROW, title=title))
    found = row_from_line(line)
    assert found is not None and found.title == title and ("=1" not in title or ",'" in line)


def test_of_several_revisions_the_highest_then_the_latest_then_the_last_in_the_file_holds() -> None:
    def holds(*rows: Exported) -> str:
        return ExportLog(rows).latest()[ROW.uid].title

    a, b = replace(ROW, title="a"), replace(ROW, title="b")
    later = replace(b, stamp=NOW + timedelta(seconds=1))
    assert holds(a, b) == "b" and holds(b, a) == "a" and holds(later, a) == "b" and holds(replace(b, sequence=4, stamp=NOW - timedelta(days=1)), a) == "b"
    log = ExportLog((a,))
    assert [bool(log.better_of((r,))) for r in (b, later, replace(b, sequence=4), replace(b, sequence=2, stamp=later.stamp), replace(b, uid="other"))] == [False, True, True, False, True]
    assert log.seeded((b,)).rows == (b, a) and log.journal == ROW.journal and ExportLog().journal == ""


# --- plain files


@pytest.mark.parametrize(("size", "most", "fits"), [(0, 0, True), (10, 10, True), (11, 10, False), (10, 1_000_000, True)])
def test_a_file_is_read_up_to_its_most(tmp_path: Path, size: int, most: int, fits: bool) -> None:
    (tmp_path / "a").write_bytes(b"x" * size)
    if fits:
        assert read_plain_file(tmp_path / "a", most) == b"x" * size
    else:
        with pytest.raises(FileRefused, match="MB"):
            read_plain_file(tmp_path / "a", most)


# --- the tank file


@pytest.mark.parametrize(
    ("key", "fits", "beyond"),
    [("tank: {volume: @}", ("4 L", "50000 L"), ("3.9 L", "50001 L")), ("tank: {length: @, width: 40 cm, height: 40 cm}", ("8 cm", "1000 cm"), ("7.9 cm", "1001 cm")), ("tank: {length: 80 cm, width: 80 cm, height: 90 cm, glass: @}", ("2 mm", "60 mm"), ("1.9 mm", "61 mm")),
     ("tank: {length: 80 cm, width: 80 cm, height: 90 cm, waterline: @}", ("0 cm", "50 cm"), ("51 cm",)), ("tank: {volume: 100 L, sump: @}", ("0 L", "20000 L"), ("20001 L",)), ("tank: {volume: 100 L}\nrock: {mass: @}", ("0 kg", "5000 kg"), ("5001 kg",)), ("tank: {volume: 100 L}\nsand: {depth: @}", ("0 cm", "60 cm"), ("61 cm",)),
     ("tank: {volume: 100 L}\nroom: {temperature: @}", ("-10 C", "50 C"), ("-11 C", "51 C")), ("tank: {volume: 100 L}\nwater: {temperature: @}", ("20 C", "31 C"), ("19.9 C", "31.1 C")), ("tank: {volume: 100 L}\nwater: {salinity: @}", ("25 ppt", "40 ppt"), ("24.9 ppt", "40.1 ppt")), ("tank: {volume: 100 L}\nwater: {salt_per_litre: @}", ("35.9", "42.5 g/L"), ("35.8", "42.6")),
     ("tank: {volume: 100 L}\ncycle: {dose: @}", ("0.1 mg/L as N", "5 mg/L as N"), ("0.09 mg/L as N", "5.1 mg/L as N")), ("tank: {volume: 100 L}\nequipment: {heater: @}", ("1 W", "10000 W", "[1 W, 2 W]"), ("0.9 W", "10001 W")), ("tank: {volume: 100 L}\nequipment: {circulation: @}", ("1 L/h", "1000000 L/h"), ("0.9 L/h", "1000001 L/h")),
     ("tank: {volume: 100 L}\nequipment: {bin: @}", ("0.5 L", "100000 L"), ("0.4 L", "100001 L")), ("tank: {volume: 100 L}\nequipment: {ro_rate: @}", ("1 L/day", "50000 L/day"), ("0.9 L/day", "50001 L/day")), ("tank: {volume: 100 L}\nwish_list: [{animal: x, count: @}]", ("1", "9999"), ("0", "10000", "1.5")), ("tank: {volume: 100 L}\nstart: @", ("1990-01-01", "2199-12-31"), ("1989-12-31", "2200-01-01", "2026-02-30", "26-03-04")),
     ("tank: {volume: 100 L}\nkeeper: {reminder_time: '@'}", ("00:00", "23:59", "7.05"), ("24:00", "7:5", "12:60")), ("tank: {volume: 100 L}\nkeeper: {shopping_days: [@]}", ("mo", "monday", "sat"), ("m", "t", "xx")), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, expires: @}}", ("2028-02", "2028-02-29", "2028-12"), ("2028-13", "2027-02-29", "2028")), ("tank: {volume: 100 L}\nalready: {@: 2026-03-01}", ("site", "a1-b"), ("Site", "1a", "-a")),
     ("tank: {volume: 100 L}\nkeeper: {away: [{from: 2026-05-02, to: @}]}", ("2026-05-02", "2026-05-03"), ("2026-05-01",)), ("tank: {volume: 100 L}\nequipment: {battery_air: @}", ("yes", "NO", "on", "off", "true"), ("maybe", "1")), ("tank: {volume: 100 L}\nequipment: {light: @}", ("60 W", "150 PAR", "a few words"), ("60",)),
     ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, step: @}}", ("0.25", "0.25 mg/L", "0.2 ppm", "0.1 mg/L as NH4"), ("0", "-0.1", "x", "0.1 dKH")), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N, blank: @}}", ("0", "0.25"), ("-0.1",)), ("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: @}}", ("N", "ion", "NH3", "NH4"), ("NO2", "no3")), ("tank: {volume: 100 L}\ntest_kits: {salinity: {step: @}}", ("0.001 SG", "1 ppt", "0.5"), ("0.001", "1.001"))],
)
def test_a_key_takes_what_lies_up_to_its_ends_and_nothing_beyond(key: str, fits: tuple[str, ...], beyond: tuple[str, ...]) -> None:
    for value in fits:
        tank, problems = read_tank(key.replace("@", value) + "\n", "tank.yaml")
        assert tank is not None and not problems, (value, [str(p) for p in problems])
    for value in beyond:
        assert read_tank(key.replace("@", value) + "\n", "tank.yaml")[1], value


@pytest.mark.parametrize(("rock", "ammonia", "code"), [("{kind: live}", "rock", None), ("{kind: live, cured_in: bin}", "dosed", None), ("{kind: live, cured_in: tank}", "dosed", "two-ammonia-sources"), ("{kind: live, cured_in: tank}", "rock", None), ("{kind: live, cured_in: tank}", "food", None), ("{kind: dry}", "rock", "no-ammonia-source"), ("{kind: cured}", "rock", "no-ammonia-source"), ("{}", "rock", "no-ammonia-source"), ("{kind: dry}", "dosed", None), ("{kind: dry, cured_in: bin}", "dosed", "not-with-this-rock"), ("{kind: cured, cured_in: tank}", "dosed", "not-with-this-rock"), ("{cured_in: tank}", "dosed", None)])
def test_rock_and_ammonia_go_together_or_not(rock: str, ammonia: str, code: str | None) -> None:
    problems = read_tank(f"tank: {{volume: 100 L}}\nrock: {rock}\ncycle: {{ammonia: {ammonia}}}\n", "tank.yaml")[1]
    assert [p.code for p in problems] == ([code] if code else [])


@pytest.mark.parametrize(("rock", "ammonia", "cured_in"), [("{kind: live}", "rock", "bin"), ("{kind: dry}", "dosed", None), ("{}", "dosed", None), ("{kind: live, cured_in: tank}", "rock", "tank")])
def test_what_is_not_said_of_rock_follows_from_its_kind(rock: str, ammonia: str, cured_in: str | None) -> None:
    tank, _ = read_tank(f"tank: {{volume: 100 L}}\nrock: {rock}\n", "tank.yaml")
    assert tank is not None and (tank.cycle.ammonia, tank.rock.cured_in) == (ammonia, cured_in)


def test_a_kits_scale_is_told_in_the_units_of_the_house() -> None:
    """1 mg/L as NH4 is 0.7765 mg/L as N (IUPAC weights); a step of 1.8 °F is one of 1 °C; 0.001 of specific gravity at 25/25 is 1.3 ppt near sea water (gsw 3.6.23)."""
    tank, problems = read_tank("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: ion, step: 1, highest: 0.5 mg/L as N, blank: 0}, temperature: {step: 1.8 F}, salinity: {step: 0.001 SG, highest: 40}, nitrite: {blank: 0, step: 0.1}}\n", "tank.yaml")
    assert tank is not None and not problems
    ammonia, nitrite = tank.test_kits["ammonia"], tank.test_kits["nitrite"]
    assert (ammonia.step_internal("ammonia"), ammonia.highest_internal("ammonia"), ammonia.blank_internal("ammonia")) == (pytest.approx(0.7765, abs=1e-4), pytest.approx(0.5), 0.0)
    assert (nitrite.blank_internal("nitrite"), nitrite.step_internal("nitrite"), nitrite.highest_internal("nitrite")) == (0.0, None, None)
    assert tank.test_kits["temperature"].step == pytest.approx(1) and tank.test_kits["salinity"].step == pytest.approx(1.31, abs=0.02) and tank.test_kits["salinity"].highest == 40
    assert ION_KIT is not None and ION_KIT.test_kits["nitrite"].step_internal("nitrite") == pytest.approx(0.0761, abs=1e-4)


def test_a_value_of_the_tank_is_found_by_its_keys() -> None:
    tank, _ = read_tank("tank: {volume: 100 L}\ntest_kits: {ammonia: {basis: N}}\nalready: {site: 2026-03-01}\n", "tank.yaml")
    assert tank is not None
    assert tank_value(tank, "already.site") == date(2026, 3, 1) and tank_value(tank, "already.water") is None and tank_value(tank, "test_kits.ammonia.basis") == "N" and tank_value(tank, "test_kits.nitrite.basis") is None and tank_value(tank, "rock.kind") is None
    assert "rock.kind" in known_paths() and "rock.colour" not in known_paths()
    with pytest.raises(KeyError):
        tank_value(tank, "rock.colour")


# --- YAML


@pytest.mark.parametrize(
    ("text", "code", "line", "column"),
    [("a: 1\na: 2\n", "duplicate-key", 2, 1), ("a: &x 1\n", "yaml-anchor", 1, 4), ("a: *x\n", "yaml-anchor", 1, 4), ("a: !!int 1\n", "yaml-tag", 1, 4), ("a: 1\n---\nb: 2\n", "yaml-documents", 2, 1), ("? [a]\n: 1\n", "yaml-key", 1, 3), ("a:\t1\n", "yaml-tab", 1, 3), ("a: one two: c\n", "text-unquoted", 1, 4), ("a: 'b\n", "yaml-syntax", 1, 4), ("a: [b\n", "yaml-syntax", 1, 4), ("a: 1\n b: 2\n", "yaml-syntax", 2, 3), ("a: @b\n", "yaml-syntax", 1, 4), ("a: \x01\n", "yaml-character", 1, 4), ("a: 1\nb: x\x01\n", "yaml-character", 2, 5)],
)
def test_a_mistake_in_the_writing_is_shown_where_it_stands(text: str, code: str, line: int, column: int) -> None:
    problems = [p for p in read_yaml(text, "f")[2] if p.code == code]
    assert [(p.place.line, p.place.column) for p in problems] == [(line, column)]


@pytest.mark.parametrize(("text", "part"), [("a: 'b\n", "quotation mark"), ("a: [b\n", "bracket"), ("a: @b\n", "a sign that has a meaning"), ("- a\nb: 1\n", "line up with the list"), ('a: "\\q"\n', "backslash"), ("a: 1\nb\nc: 2\n", "no `: ` after its key")])
def test_a_mistake_in_the_writing_is_told_by_its_kind(text: str, part: str) -> None:
    assert part in " ".join(p.message for p in read_yaml(text, "f")[2])


@pytest.mark.parametrize(("text", "line", "column", "fix"), [("rock:\n  kind dry  # or live\n  mass: 12 kg\n", 2, 3, "write `kind: dry`"), ("name My reef\nunits: metric\n", 1, 1, "write `name: My reef`"), ("units:metric\ntank:\n  a: 1\n", 1, 1, "write `units: metric`"), ("keeper:\n  at \"18:00\"\n  a: 1\n", 2, 3, "write `at: \"18:00\"`"), ("a: 1\ntank\n  b: 2\n", 2, 1, "write `tank:`, and its value behind it if it has one"),
                                                        ("room:\n  t: 18 C\n  floor solid\n\n# kits\ntest_kits:\n  a: 1\n", 3, 3, "write `floor: solid`")])
def test_a_colon_that_is_missing_is_shown_on_its_own_line(text: str, line: int, column: int, fix: str) -> None:
    (found,) = read_yaml(text, "f")[2]
    assert (found.place.line, found.place.column, found.fix) == (line, column, fix)


def test_a_line_that_is_indented_too_far_is_no_missing_colon() -> None:
    (found,) = read_yaml("rock:\n  kind: dry\n   mass: 12 kg\n", "f")[2]
    assert found.place.line == 3 and "colon" not in found.message and "after its key" not in found.message


def test_what_is_empty_is_nothing_and_what_is_quoted_is_text() -> None:
    assert read_yaml("a:\nb: ''\nc: '1'\nd: ~\n", "f")[0] == {"a": None, "b": "", "c": "1", "d": "~"} and read_yaml("", "f")[0] is None
    assert [line_of(["a", "b\tc"], n) for n in (0, 1, 2, 3)] == ["", "a", "b c", ""]


def test_a_line_that_is_no_utf8_is_named_and_the_rest_is_read() -> None:
    text, (problem,) = decode_text(b"a: 1\nb: \xb0C\n", "f")
    assert (problem.code, problem.place.line) == ("not-utf8", 2) and text.startswith("a: 1") and decode_text(b"\xef\xbb\xbfa: 1", "f") == ("a: 1", ())


def test_a_journal_without_a_header_is_told_and_an_empty_one_is_not() -> None:
    def codes(text: str) -> list[str]:
        return [p.code for p in read_journal(text, "j", None, UTC)[1]]

    assert codes(f"{DAY},reading,ph,8.1,,,\n") == ["header-missing"] and codes("") == codes("\n \n") == codes(HEADER + "\n") == codes(f"{HEADER}\n{DAY},reading,ph,8.1,,,") == []
    assert codes(f"{HEADER}\n{DAY},reading,ph") == ["torn-row"] and codes(f"{HEADER}\n{DAY},reading,ph\n") == ["row-incomplete"]
