"""The livestock catalogue: what it holds, how it is found, and how house rules lie over it."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.stock.animals import CORALS, GROUPS
from planner.stock.catalogue import Catalogue, load_catalogue
from planner.stock.room_and_load import RoomStep, step_from_length

RULES = Path(__file__).parents[3] / "rules" / "livestock"


@pytest.fixture(scope="module")
def catalogue() -> Catalogue:
    return load_catalogue([RULES])


def test_the_shipped_files_have_no_problems_and_every_group_has_animals(catalogue: Catalogue) -> None:
    assert catalogue.problems == ()
    assert len(catalogue.animals) >= 120
    assert {a.group for a in catalogue.animals} == set(GROUPS)


def test_every_animal_has_its_own_sentence_and_a_known_source(catalogue: Catalogue) -> None:
    words = [a.word for a in catalogue.animals]
    assert all(w.endswith(".") and len(w) > 20 for w in words) and len(set(words)) >= len(words) - 12
    sources = (RULES.parent / "sources.yaml").read_text(encoding="utf-8")
    named = {a.source for a in catalogue.animals} | {f.source for f in catalogue.figures.figures}
    assert all(f"\n{key}:" in sources for key in named - {"practice", ""})


def test_every_host_names_animals_or_kinds_that_exist(catalogue: Catalogue) -> None:
    known = {a.id for a in catalogue.animals} | {a.kind for a in catalogue.animals}
    assert {guest for a in catalogue.animals for guest in a.houses} <= known


def test_ids_names_and_look_up_are_unique(catalogue: Catalogue) -> None:
    assert len({a.id for a in catalogue.animals}) == len(catalogue.animals)
    for a in catalogue.animals:
        assert catalogue.find(a.name).animal is a, a.name


@pytest.mark.parametrize(
    ("text", "how", "animal_id"),
    [
        ("amphiprion-ocellaris", "id", "amphiprion-ocellaris"),
        ("Ocellaris Clownfish", "name", "amphiprion-ocellaris"),
        ("Amphiprion ocellaris", "name", "amphiprion-ocellaris"),
        ("Heteractis magnifica", "name", "radianthus-magnifica"),
        ("zoas", "name", "zoanthus-spp"),
        ("skunk cleaner shrimps", "name", "lysmata-amboinensis"),
        ("yelow tang", "near", "zebrasoma-flavescens"),
        ("royal grama", "near", "gramma-loreto"),
    ],
)
def test_an_animal_is_found_by_any_name_a_buyer_may_write(text: str, how: str, animal_id: str, catalogue: Catalogue) -> None:
    found = catalogue.find(text)
    assert found.how == how and found.animal is not None and found.animal.id == animal_id


@pytest.mark.parametrize("text", ["clownfish", "watchman goby", "button polyps", "tang"])
def test_a_name_of_several_animals_lists_them_and_chooses_none(text: str, catalogue: Catalogue) -> None:
    found = catalogue.find(text)
    assert found.how == "ambiguous" and found.animal is None and len(found.candidates) >= 2


@pytest.mark.parametrize("text", ["", "   ", "xylophone", "goldfish bowl castle"])
def test_a_word_that_is_no_animal_is_unknown(text: str, catalogue: Catalogue) -> None:
    found = catalogue.find(text)
    assert found.animal is None and found.how == "unknown"


def test_room_follows_the_stated_rule(catalogue: Catalogue) -> None:
    """Worked by hand: ocellaris 8 cm near rock, 8 x 6 = 48, floor 60 -> step 60 cm / 65 L. Sixline 8 cm, fierce:
    48 x 1.25 = 60, floor 75 -> 75 / 100. Chromis in fives, open: floor 90, one step more -> 100 / 190."""
    sizes = {}
    for animal_id in ("amphiprion-ocellaris", "pseudocheilinus-hexataenia", "chromis-viridis"):
        animal = catalogue.get(animal_id)
        assert animal is not None
        sizes[animal_id] = (animal.run_cm, animal.room_l)
    assert sizes == {
        "amphiprion-ocellaris": (60, 65),
        "pseudocheilinus-hexataenia": (75, 100),
        "chromis-viridis": (100, 190),
    }


def test_a_length_beyond_the_last_step_grows_the_volume_with_its_cube() -> None:
    assert step_from_length(200, (RoomStep(100, 200),)) == RoomStep(200, 1600)


def _overlay(tmp_path: Path, text: str) -> Catalogue:
    (tmp_path / "house.yaml").write_text(text, encoding="utf-8")
    return load_catalogue([RULES, tmp_path])


def test_a_house_folder_adds_an_animal_and_changes_another(tmp_path: Path) -> None:
    both = _overlay(
        tmp_path,
        "group: fish\nkinds: {}\nanimals:\n"
        "  - {id: gramma-loreto, run_cm: 100}\n"
        "  - {id: house-goby, name: house goby, latin: Gobius domus, kind: goby, adult_cm: 4, word: Ours.}\n",
    )
    gramma, goby = both.get("gramma-loreto"), both.get("house-goby")
    assert both.problems == () and gramma is not None and goby is not None
    assert (gramma.run_cm, gramma.name) == (100, "royal gramma")
    assert goby.house == "goby" and both.find("house goby").animal is goby


@pytest.mark.parametrize("change", ["hazards: []", "skill: easy", "age_days: 1", "eats: []", "run_cm: 30", "adult_cm: 5"], ids=lambda c: c.split(":")[0])
def test_a_house_folder_cannot_make_an_animal_look_safer(change: str, tmp_path: Path) -> None:
    both = _overlay(tmp_path, f"group: fish\nkinds: {{}}\nanimals:\n  - {{id: pterois-volitans, {change}}}\n")
    alone = load_catalogue([RULES]).get("pterois-volitans")
    ours = both.get("pterois-volitans")
    assert ours is not None and alone is not None
    assert [p.code for p in both.problems] == ["loosened"]
    assert getattr(ours, change.split(":")[0]) == getattr(alone, change.split(":")[0])


@pytest.mark.parametrize(
    ("name", "value", "code"),
    [("stage_gap", "7", "loosened"), ("stage_gap", "21", ""), ("stage_fish", "5", "loosened"), ("stage_fish", "1", "")],
)
def test_a_house_number_may_only_be_stricter(name: str, value: str, code: str, tmp_path: Path) -> None:
    (tmp_path / "numbers.yaml").write_text(f"numbers:\n  {name}: {{value: {value}}}\n", encoding="utf-8")
    both, ours = load_catalogue([RULES, tmp_path]), load_catalogue([RULES])
    assert [p.code for p in both.problems] == ([code] if code else [])
    assert both.figures.value(name) == (ours.figures.value(name) if code else float(value))


def test_a_house_folder_cannot_rewrite_our_kinds_or_move_an_animal_to_another(tmp_path: Path) -> None:
    both = _overlay(
        tmp_path,
        "group: fish\nkinds:\n  lionfish: {body: perch, swims: near_rock}\nanimals:\n  - {id: pterois-volitans, kind: goby}\n",
    )
    lionfish = both.get("pterois-volitans")
    assert [p.code for p in both.problems] == ["loosened", "loosened"]
    assert lionfish is not None and "fish" in lionfish.eats and lionfish.kind == "lionfish"


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("{id: a, name: a, latin: a, kind: goby, adult_cm: 4, word: x., mannr: mild}", "unknown_key"),
        ("{id: a, name: a, latin: a, kind: goby, adult_cm: 4, word: x., manner: angry}", "unknown_word"),
        ("{id: a, name: a, latin: a, kind: goby, adult_cm: four, word: x.}", "no_number"),
        ("{id: a, name: a, latin: a, kind: gobby, adult_cm: 4, word: x.}", "bad_kind"),
        ("{id: a, name: a, latin: a, kind: goby, word: x.}", "missing_key"),
        ("{id: a, id: b, name: a, latin: a, kind: goby, adult_cm: 4, word: x.}", "twice"),
        ("{id: a, name: [", "bad_yaml"),
        ("{id: a, name: a\x01}", "bad_yaml"),
    ],
)
def test_a_mistake_in_a_file_is_reported_with_its_line(line: str, code: str, tmp_path: Path) -> None:
    both = _overlay(tmp_path, f"group: fish\nanimals:\n  - {line}\n")
    mine = [p for p in both.problems if p.code == code]
    assert mine and mine[0].place.file.endswith("house.yaml") and mine[0].place.line >= 3
    assert len(both.animals) >= 120


@pytest.mark.parametrize(("text", "among"), [("clown fish", "amphiprion-ocellaris"), ("angel fish", "pomacanthus-imperator")])
def test_a_name_written_in_two_words_finds_the_animals_written_in_one(text: str, among: str, catalogue: Catalogue) -> None:
    assert among in catalogue.find(text).candidates


def test_a_word_from_the_middle_of_one_name_is_asked_about(catalogue: Catalogue) -> None:
    assert catalogue.find("reef").animal is None and len(catalogue.find("reef").candidates) == 1
    assert all(catalogue.find(word).animal is not None for word in ("hammer", "hammers", "chromis"))



@pytest.mark.parametrize("word", ["coral", "corals"])
def test_a_word_for_a_sort_of_animal_names_that_sort_first(catalogue: Catalogue, word: str) -> None:
    """Whoever wants a coral is not led to a shrimp or a fish with the word in its name."""
    first = catalogue.find(word).candidates[:4]
    assert {a.group for i in first if (a := catalogue.get(i)) is not None} <= CORALS


def test_the_name_of_a_group_offers_its_animals_and_no_name_that_only_sounds_alike(catalogue: Catalogue) -> None:
    found = catalogue.find("soft corals")
    assert found.animal is None and found.candidates and {a.group for a in catalogue.animals if a.id in found.candidates} == {"soft_coral"}
