"""The tank file: every key it may hold, its defaults, and what is kept when a key is wrong. Expected figures are worked
by hand from the definitions of the units."""

from __future__ import annotations

from datetime import date

import pytest

from planner.files.tank import Light, Tank, known_paths, read_tank, tank_value
from planner.terms.written_amounts import nitrogen_factor

FULL = """
id: 6F1C1F0E-6E0E-4A53-9D8C-0D5A3B0B6A11
name: Kitchen reef
start: 2026-03-04
timezone: Europe/Berlin
units: us
tank: {length: 80 cm, width: 40 cm, height: 18 in, glass: 8 mm, waterline: 3 cm, sump: 5 gal, lid: no}
rock: {kind: live, mass: 12 kg, cured_in: tank}
sand: {kind: live, mass: 10 lb, depth: 1 in}
cycle: {ammonia: rock, dose: 1.28785 mg/L as NH4, seed: bottled}
water: {source: ro, mixed_in: bin, salinity: 34 ppt, temperature: 77 °F, salt_per_litre: 37.5}
equipment:
  heater: [100 W, 0.1 kW]
  circulation: [1500 L/h, 1500 L/h]
  skimmer: 500 L/h
  light: 60 W
  bin: 60 L
  ro_rate: 50 gal/day
  top_up: 5 L
  battery_air: yes
  quarantine_tank: yes
room: {temperature: 20 C, floor: suspended}
test_kits:
  ammonia: {basis: ion, step: 0.25, highest: 8 ppm, blank: 0.25, expires: 2028-02}
  nitrite: {basis: N, step: 0.1 mg/L as NO2}
  alkalinity: {step: 0.2 meq/L}
  temperature: {step: 1 F}
keeper: {reminder_time: 7.05, away: [{from: 2026-05-01, to: 2026-05-10}], shopping_days: [sat, Wednesday]}
wish_list:
  - {animal: amphiprion-ocellaris, count: 2}
  - {animal: lysmata-amboinensis}
already: {site: 2026-03-01}
"""


def tank_of(text: str) -> Tank:
    tank, problems = read_tank(text, "tank.yaml")
    assert not problems, [str(p) for p in problems]
    assert tank is not None
    return tank


def codes(text: str) -> list[tuple[str, int, int]]:
    return [(p.code, p.place.line, p.place.column) for p in read_tank(text, "tank.yaml")[1]]


def test_every_key_of_the_file_is_read_in_internal_units() -> None:
    t = tank_of(FULL)
    assert (t.id, t.name, t.start, t.timezone, t.units) == (
        "6f1c1f0e-6e0e-4a53-9d8c-0d5a3b0b6a11", "Kitchen reef", date(2026, 3, 4), "Europe/Berlin", "us")
    assert (t.tank.length_cm, t.tank.width_cm, t.tank.glass_mm, t.tank.waterline_cm, t.tank.lid) == (80, 40, 8, 3, False)
    assert t.tank.height_cm == pytest.approx(45.72)
    assert t.tank.sump_l == pytest.approx(18.927059)
    assert (t.rock.kind, t.rock.mass_kg, t.rock.cured_in) == ("live", 12, "tank")
    assert (t.sand.mass_kg, t.sand.depth_cm) == (pytest.approx(4.5359237), 2.54)
    assert (t.cycle.ammonia, t.cycle.dose_mg_n_l, t.cycle.seed) == ("rock", pytest.approx(1, rel=1e-4), "bottled")
    assert (t.water.salinity, t.water.temperature_c, t.water.salt_per_litre_g) == (34, pytest.approx(25), 37.5)
    e = t.equipment
    assert (e.heater_w, e.circulation_l_h, e.skimmer, e.light) == ((100, 100), 3000, 500, Light("60 W"))
    assert (e.bin_l, e.top_up, e.battery_air, e.quarantine_tank, e.quarantine_l) == (60, 5, True, True, None)
    assert e.ro_rate_l_d == pytest.approx(189.27059)
    assert (t.room.temperature_c, t.room.floor) == (20, "suspended")
    assert t.keeper.reminder_time == "07:05"
    assert [(a.from_day, a.to_day, a.nights) for a in t.keeper.away] == [(date(2026, 5, 1), date(2026, 5, 10), 9)]
    assert t.keeper.shopping_days == ("saturday", "wednesday")
    assert [(w.animal, w.count) for w in t.wish_list] == [("amphiprion-ocellaris", 2), ("lysmata-amboinensis", 1)]
    assert t.already == {"site": date(2026, 3, 1)}


def test_a_kit_keeps_its_own_scale_and_converts_on_request() -> None:
    kits = tank_of(FULL).test_kits
    ammonia = kits["ammonia"]
    assert (ammonia.step, ammonia.highest, ammonia.expires) == (0.25, 8, date(2028, 2, 29))
    assert ammonia.step_internal("ammonia") == pytest.approx(0.25 / 1.28785, rel=1e-4)
    assert ammonia.blank_internal("ammonia") == ammonia.step_internal("ammonia")
    assert ammonia.highest_internal("ammonia") == pytest.approx(8 / nitrogen_factor("ammonia", "ion"))
    assert kits["nitrite"].step_internal("nitrite") == pytest.approx(0.1 / 3.28454, rel=1e-4)
    assert kits["alkalinity"].step_internal("alkalinity") == pytest.approx(0.2 * 2.8039, rel=1e-4)
    assert kits["temperature"].step_internal("temperature") == pytest.approx(1 / 1.8)


def test_a_step_in_specific_gravity_is_a_step_in_salinity() -> None:
    kit = tank_of("tank: {volume: 100 L}\ntest_kits: {salinity: {step: 0.001 SG}}\n").test_kits["salinity"]
    # Computed with gsw 3.6.23: 1.025 and 1.026 on 25/25 are 33.186 and 34.507.
    assert kit.step_internal("salinity") == pytest.approx(34.507 - 33.186, abs=0.002)


def test_a_kit_without_basis_tells_no_step() -> None:
    kit = tank_of("tank: {volume: 100 L}\ntest_kits: {nitrite: {step: 0.25, blank: 0}}\n").test_kits["nitrite"]
    assert kit.step_internal("nitrite") is None
    assert kit.blank_internal("nitrite") == 0


def test_the_smallest_file_is_a_size_and_true_defaults() -> None:
    t = tank_of("tank: {volume: 100 L}\n")
    assert t.units == "metric"
    assert (t.water.salinity, t.water.temperature_c, t.water.salt_per_litre_g, t.water.mixed_in) == (35, 25.5, 38, "bin")
    assert (t.cycle.ammonia, t.cycle.dose_mg_n_l, t.cycle.seed) == ("dosed", 2, "none")
    assert (t.keeper.reminder_time, t.tank.sump_l) == ("18:00", None)
    for path in ("rock.kind", "sand.depth", "water.source", "equipment.heater", "equipment.skimmer", "room.floor", "tank.lid", "start",
                 "timezone", "test_kits.ammonia.step"):
        assert tank_value(t, path) is None, path


@pytest.mark.parametrize(("kind", "source"), [("live", "rock"), ("dry", "dosed"), ("cured", "dosed")])
def test_the_ammonia_follows_the_rock(kind: str, source: str) -> None:
    assert tank_of(f"tank: {{volume: 100 L}}\nrock: {{kind: {kind}}}\n").cycle.ammonia == source


def test_live_rock_is_cured_in_a_bin_unless_said_otherwise() -> None:
    assert tank_of("tank: {volume: 100 L}\nrock: {kind: live}\n").rock.cured_in == "bin"


def test_empty_keys_are_keys_not_described() -> None:
    t = tank_of("tank:\n  volume: 100 L\n  lid:\nrock:\nequipment:\n  light:\nwish_list:\n")
    assert (t.tank.lid, t.rock.kind, t.equipment.light, t.wish_list) == (None, None, None, ())


def test_a_value_is_found_by_its_path_and_unknown_paths_are_refused() -> None:
    t = tank_of(FULL)
    assert tank_value(t, "rock.kind") == "live"
    assert tank_value(t, "tank.glass") == 8
    assert tank_value(t, "test_kits.ammonia.basis") == "ion"
    assert tank_value(t, "test_kits.ph.step") is None
    assert tank_value(t, "already.site") == date(2026, 3, 1)
    for path in ("rock.colour", "rock.mass_kg", "tank", "keeper.away.from"):
        if path in known_paths():
            assert tank_value(t, path) is not None
        else:
            with pytest.raises(KeyError):
                tank_value(t, path)


def test_every_known_path_can_be_asked_of_any_tank() -> None:
    for t in (tank_of(FULL), tank_of("tank: {volume: 100 L}\n")):
        for path in known_paths():
            tank_value(t, path)
    assert {"rock.cured_in", "equipment.ro_rate", "water.salt_per_litre", "room.floor", "tank.volume"} <= known_paths()


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("colour: red", "unknown-key"),
        ("id: my-tank", "not-an-id"),
        ("start: 04.03.2026", "not-a-date"),
        ("start: 2026-02-30", "not-a-date"),
        ("timezone: Europe/Berln", "unknown-timezone"),
        ("timezone: Europe", "unknown-timezone"),
        ("timezone: ../../etc/passwd", "unknown-timezone"),
        ("units: metrik", "not-a-choice"),
        ("rock: {kind: dry, cured_in: bin}", "not-with-this-rock"),
        ("rock: {mass: 12}", "unit-missing"),
        ("rock: live", "not-a-block"),
        ("cycle: {ammonia: rock}", "no-ammonia-source"),
        ("cycle: {dose: 2 ppm}", "basis-missing"),
        ("cycle: {dose: 20 mg/L as N}", "impossible-value"),
        ("water: {salinity: 1.026}", "sg-pair-missing"),
        ("water: {salinity: 12 ppt}", "impossible-value"),
        ("water: {salt_per_litre: 35}", "impossible-value"),
        ("water: {salt_per_litre: 43}", "impossible-value"),
        ("water: {temperature: 25}", "unit-missing"),
        ("equipment: {heater: [100 W, 3 kg]}", "unit-unknown"),
        ("equipment: {skimmer: maybe}", "not-a-number"),
        ("equipment: {light: 60}", "unit-missing"),
        ("equipment: {battery_air: 2}", "not-yes-or-no"),
        ("room: {floor: wood}", "not-a-choice"),
        ("test_kits: {amonia: {step: 0.25}}", "unknown-reading"),
        ("test_kits: {ammonia: {basis: NO2}}", "not-a-choice"),
        ("test_kits: {calcium: {basis: N}}", "not-a-choice"),
        ("test_kits: {ammonia: {step: 0}}", "impossible-value"),
        ("test_kits: {ammonia: {step: 0.25 mg/L as N}}", "basis-missing"),
        ("test_kits: {salinity: {step: 0.001}}", "unit-missing"),
        ("keeper: {reminder_time: 25:00}", "not-a-time"),
        ("keeper: {away: [{from: 2026-05-02, to: 2026-05-01}]}", "dates-reversed"),
        ("keeper: {shopping_days: [s]}", "not-a-weekday"),
        ("wish_list: [{count: 2}]", "missing-key"),
        ("wish_list: [{animal: x, count: 0}]", "not-a-whole-number"),
        ("already: {Site: 2026-03-01}", "not-a-name"),
    ],
)
def test_a_wrong_key_is_reported_and_the_tank_still_stands(line: str, code: str) -> None:
    tank, problems = read_tank(f"tank: {{volume: 100 L}}\n{line}\n", "tank.yaml")
    assert [(p.code, p.place.line) for p in problems] == [(code, 2)]
    assert tank is not None
    assert tank.tank.volume_l == 100


def test_what_was_left_out_falls_back_to_its_default() -> None:
    tank, _ = read_tank("tank: {volume: 100 L}\nwater: {salinity: 1.026, temperature: 26 C}\nrock: {kind: dry, mass: 9}\n", "t")
    assert tank is not None
    assert (tank.water.salinity, tank.water.temperature_c, tank.rock.kind, tank.rock.mass_kg) == (35, 26, "dry", None)


def test_a_wrong_item_of_a_list_is_left_out_alone() -> None:
    text = "tank: {volume: 100 L}\nwish_list:\n  - {animal: a, count: x}\n  - {animal: b}\n  - {anmal: c}\n"
    tank, problems = read_tank(text, "tank.yaml")
    assert tank is not None
    assert [w.animal for w in tank.wish_list] == ["a", "b"]
    assert {(p.code, p.place.line) for p in problems} == {("not-a-whole-number", 3), ("unknown-key", 5), ("missing-key", 5)}


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("name: x\n", "size-missing"),
        ("", "size-missing"),
        ("tank: {length: 80 cm, width: 40 cm}\n", "size-missing"),
        ("tank: {length: 80, width: 40 cm, height: 45 cm}\n", "unit-missing"),
        ("tank: {length: 8 mm, width: 40 cm, height: 45 cm}\n", "impossible-value"),
        ("- tank\n", "not-a-block"),
        ("tank: {volume: 100 L\n", "yaml-syntax"),
    ],
)
def test_without_a_size_there_is_no_tank(text: str, code: str) -> None:
    tank, problems = read_tank(text, "tank.yaml")
    assert tank is None
    assert [p.code for p in problems] == [code]


def test_sides_win_over_a_volume_that_may_contradict_them() -> None:
    tank, problems = read_tank("tank: {length: 80 cm, width: 40 cm, height: 45 cm, volume: 150 L}\n", "tank.yaml")
    assert [p.code for p in problems] == ["size-twice"]
    assert tank is not None and tank.tank.volume_l is None and tank.tank.length_cm == 80


def test_glass_and_waterline_must_fit_the_box() -> None:
    box = "tank: {length: 30 cm, width: 10 cm, height: 20 cm, "
    assert codes(box + "glass: 5 cm}\n") == [("impossible-value", 1, 59)]
    assert codes(box + "waterline: 25 cm}\n") == [("impossible-value", 1, 63)]


@pytest.mark.parametrize(("glass", "read"), [("1.9 mm", False), ("2 mm", True), ("60 mm", True), ("61 mm", False)])
def test_glass_has_from_2_to_60_mm(glass: str, read: bool) -> None:
    """What panes are sold in (common practice, no source): anything beyond is a slip of the unit."""
    assert (codes(f"tank: {{length: 90 cm, width: 45 cm, height: 45 cm, glass: {glass}}}\n") == []) == read


def test_a_file_saved_with_a_byte_order_mark_reads_alike() -> None:
    assert read_tank(b"\xef\xbb\xbf" + FULL.lstrip().encode(), "tank.yaml")[0] == tank_of(FULL)


def test_two_ammonia_sources_at_once_are_refused() -> None:
    text = "tank: {volume: 100 L}\nrock: {kind: live, cured_in: tank}\ncycle: {ammonia: dosed}\n"
    tank, problems = read_tank(text, "tank.yaml")
    assert [(p.code, p.place.line) for p in problems] == [("two-ammonia-sources", 3)]
    assert tank is not None and tank.cycle.ammonia == "rock"


def test_a_key_written_by_its_dotted_way_is_answered_with_the_block_it_belongs_in() -> None:
    _, problems = read_tank("start: 2026-03-02\ntank: {volume: 100 L}\nroom.floor: solid\n", "tank.yaml")
    assert [(p.code, p.fix) for p in problems] == [("unknown-key", "write `floor:` on a line of its own under `room:`, further in")]


def test_a_key_whose_heading_kept_its_mark_of_a_comment_is_told_where_it_belongs() -> None:
    _, problems = read_tank("tank: {length: 80 cm, width: 40 cm, height: 45 cm}\nsand:\n  kind: dry\n#cycle:\n  ammonia: dosed\n", "tank.yaml")
    assert [(p.code, p.fix) for p in problems] == [("unknown-key", "it belongs under `cycle:`; take the # from that heading too, if it still has one")]


@pytest.mark.parametrize("kit", ["ammonia", "nitrite", "nitrate", "ph", "alkalinity", "phosphate"])
@pytest.mark.parametrize("holds", ["    basis: ion\n    step: 0.25\n", "    step: 0.2\n"])
def test_a_kit_whose_heading_kept_its_mark_of_a_comment_is_told_by_what_it_holds(kit: str, holds: str) -> None:
    _, problems = read_tank(f"start: 2026-03-02\ntank: {{volume: 100 L}}\nroom:\n  floor: solid\n#test_kits:\n  {kit}:\n{holds}", "tank.yaml")
    assert [(p.code, p.fix) for p in problems] == [("unknown-key", "it belongs under `test_kits:`; take the # from that heading too, if it still has one")]
