"""Profiles: what is shipped holds, and no slip in a file passes."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.files import profiles
from mixer.app.files.pot_life import LabelPoint
from mixer.app.files.profiles import (
    ProfileError,
    kept_resin,
    load_cup,
    load_resin,
    load_scale,
    names,
)
from mixer.app.files.resin_view import resin_view
from mixer.pour.single import tolerance

RESIN = (Path(__file__).parents[2] / "profiles/resins/sample-blend.toml").read_text("utf-8")
SCALE = (Path(__file__).parents[2] / "profiles/scales/sma.toml").read_text("utf-8")
CUP = (Path(__file__).parents[2] / "profiles/cups/paper-300.toml").read_text("utf-8")
LOADERS = {"resins": load_resin, "scales": load_scale, "cups": load_cup}


@pytest.fixture(autouse=True)
def config(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty configuration folder of the test's own."""
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path / "config"))
    return tmp_path / "config"


def put(folder: Path, kind: str, name: str, text: str) -> Path:
    path = folder / kind / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, "utf-8")
    return path


def refusal(load, path: Path | str) -> str:
    with pytest.raises(ProfileError) as caught:
        load(str(path))
    sentence = str(caught.value)
    assert sentence.isprintable()
    return sentence


# -- what is shipped


def test_enough_is_shipped() -> None:
    resins = [load_resin(name) for name in names("resins")]
    assert len(resins) >= 3
    assert len({round(r.recipe().ratio, 6) for r in resins[:2]}) == 2
    assert any(len(r.components) > 2 for r in resins)
    assert len(names("scales")) >= 2
    assert "sma" in names("scales")
    assert len(names("cups")) >= 3


@pytest.mark.parametrize("kind", ["resins", "scales", "cups"])
def test_everything_shipped_loads_and_says_that_it_is_no_product(kind) -> None:
    for name in names(kind):
        profile = LOADERS[kind](name)
        assert profile.name == name
        assert re.search("invented|typical", profile.source)
        # The journal keeps it as canonical JSON, and the record stands alone.
        assert json.loads(rfc8785.dumps(profile.raw)) == profile.raw
        assert profile.raw["name"] == name
        assert profile.raw["source"] == profile.source


def test_a_resin_in_plain_numbers() -> None:
    resin = load_resin("sample-36")
    first, second = resin.components
    assert (first.role, first.parts, first.drip_s, first.density_g_per_ml) == (
        "resin",
        100,
        8.0,
        1.15,
    )
    assert (second.role, second.parts) == ("hardener", 36)
    assert resin.recipe().ratio_target == pytest.approx(36)
    assert resin.recipe().ratio_tolerance == 0.03
    assert resin.stir_s == 120.0
    assert resin.pot_life is not None
    assert resin.pot_life.points == (LabelPoint(100_000_000, 25.0, 1500.0),)
    assert (resin.pot_life.ends, resin.pot_life.peak_c) == ("gel", None)
    assert (resin.room_coldest_c, resin.room_dampest) == (18.0, 0.65)
    # 136 g of both fill 100/1.15 + 36/0.98 mL.
    assert resin.density_g_per_ml == pytest.approx(136 / (100 / 1.15 + 36 / 0.98))


def test_a_label_may_tell_a_peak_or_a_second_point_or_nothing(tmp_path: Path) -> None:
    slow = load_resin("sample-28").pot_life
    assert slow is not None
    assert slow.points == (
        LabelPoint(100_000_000, 25.0, 3300.0),
        LabelPoint(100_000_000, 15.0, 7200.0),
    )
    blend = load_resin("sample-blend").pot_life
    assert blend is not None
    assert blend.peak_c == 160.0
    start, end = RESIN.index("[pot_life]"), RESIN.index("[room]")
    silent = load_resin(str(put(tmp_path, "r", "silent", RESIN[:start] + RESIN[end:])))
    assert silent.pot_life is None
    assert resin_view(silent, confirmed=False)["pot_life"] is None
    assert "pot_life" not in silent.raw


def test_a_data_sheet_may_tell_how_long_a_cure_wants(tmp_path: Path) -> None:
    cure = load_resin("sample-36").cure
    assert cure is not None
    assert (cure.at_c, cure.cold_c) == (25.0, 5.0)
    assert cure.hours_s == {"handling": 86400, "peel_ply": 108000, "cup_reuse": 86400}
    slow = load_resin("sample-28").cure
    assert slow is not None
    assert (slow.hours_s["peel_ply"], slow.cold_c) == (172800, 8.0)
    assert load_resin("sample-blend").cure is None
    view = resin_view(load_resin("sample-36"), confirmed=True)["cure"]
    assert view == {
        "temperature_c": 25, "handling_s": 86400, "peel_ply_s": 108000,
        "cup_reuse_s": 86400, "cold_c": 5,
    }  # fmt: skip


def test_what_a_record_kept_of_a_profile_is_that_profile() -> None:
    for name in names("resins"):
        whole = load_resin(name)
        kept = kept_resin(json.loads(rfc8785.dumps(whole.raw)), "batch 1")
        assert replace(kept, path=whole.path) == whole
    with pytest.raises(ProfileError, match="batch 1: component: is missing"):
        kept_resin({"name": "x"}, "batch 1")


def test_equivalent_weights_where_the_profile_has_them() -> None:
    assert load_resin("sample-36").equivalents == (190, 68.4)
    assert load_resin("sample-blend").equivalents == (None, None, None)
    view = resin_view(load_resin("sample-36"), confirmed=True)
    assert [c.get("eew", c.get("ahew")) for c in view["components"]] == [190, 68.4]


TAGS = ('tag = "R 17/a"', 'tag = "F-1"', 'tag = "4006381333931"')


def tagged(*tags: str) -> str:
    text = RESIN
    for name, tag in zip(("resin", "fast", "slow"), tags, strict=True):
        text = changed(text, f'name = "{name}"', f'name = "{name}"\n{tag}')
    return text


def test_a_jug_may_have_a_tag(tmp_path: Path) -> None:
    assert all(c.tag is None for c in load_resin("sample-blend").components)
    resin = load_resin(str(put(tmp_path, "resins", "mine", tagged(*TAGS))))
    assert [c.tag for c in resin.components] == ["R 17/a", "F-1", "4006381333931"]
    assert resin_view(resin, confirmed=True)["components"][1]["tag"] == "F-1"
    assert resin.raw["component"][2]["tag"] == "4006381333931"


@pytest.mark.parametrize(
    ("tag", "says"),
    [
        ("tag = 17", "text in quotes"),
        ('tag = ""', "not blank"),
        (f'tag = "{"x" * 81}"', "1 to 80 printable ASCII"),
        ('tag = "jug ü"', "1 to 80 printable ASCII"),
        ('tag = " F-1"', "no blank at either end"),
        ('tag = "Go"', "no command card"),
        ('tag = "drop"', "no command card"),
        ('tag = "r-go"', "nor one with up to 2 characters before it"),
        ('tag = "usedup"', "no command card"),
        ('tag = "7"', "a figure of one digit"),  # with Enter a figure that a hand typed
        ('tag = "7 resin"', "a figure of one digit"),  # its blank would be a pedal
        ('tag = "r 17/A"', "a tag of its own"),  # the window sees small letters only
    ],
)
def test_a_wrong_tag_is_refused(tmp_path: Path, tag: str, says: str) -> None:
    path = put(tmp_path, "resins", "mine", tagged(TAGS[0], tag, TAGS[2]))
    sentence = refusal(load_resin, path)
    assert says in sentence
    assert "tag" in sentence


def test_a_blend_keeps_its_order_and_its_loose_split() -> None:
    recipe = load_resin("sample-blend").recipe()
    assert [c.parts for c in recipe.components] == [100, 24, 12]
    assert recipe.ratio_target == pytest.approx(36)
    assert recipe.split_tolerance > recipe.ratio_tolerance
    assert tolerance(recipe, 1) == tolerance(recipe, 2) == 0.15


def test_one_of_several_hardeners_may_have_a_tolerance_of_its_own(tmp_path: Path) -> None:
    blend = (Path(__file__).parents[2] / "profiles/resins/sample-blend.toml").read_text("utf-8")
    text = changed(blend, "parts = 24", 'parts = 24\ntolerance = "5 %"')
    recipe = load_resin(str(put(tmp_path, "resins", "mine", text))).recipe()
    assert [tolerance(recipe, index) for index in (1, 2)] == [0.05, 0.15]


def test_an_additive_stands_where_it_is_poured_and_has_a_tolerance_of_its_own() -> None:
    recipe = load_resin("sample-tinted").recipe()
    assert [(c.name, c.role, c.tolerance) for c in recipe.components] == [
        ("resin", "resin", None),
        ("pigment", "additive", 0.2),
        ("hardener", "hardener", None),
    ]
    assert recipe.ratio_target == pytest.approx(36)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('tolerance = "20 %"\n', "", ["tolerance"]),
        ('role = "hardener"', 'role = "additive"\ntolerance = "3 %"', ["a hardener among them"]),
        (
            "parts = 36",
            'parts = 36\ntolerance = "3 %"',
            ["the only hardener as the ratio of [band]"],
        ),
        ('name = "pigment"', 'name = "resin"', ["component name"]),
    ],
)
def test_a_wrong_additive_is_refused(tmp_path: Path, old: str, new: str, says: list[str]) -> None:
    tinted = (Path(__file__).parents[2] / "profiles/resins/sample-tinted.toml").read_text("utf-8")
    sentence = refusal(load_resin, put(tmp_path, "resins", "mine", changed(tinted, old, new)))
    for part in says:
        assert part in sentence


def test_the_scale_that_is_taken_by_default() -> None:
    scale = load_scale("sma")
    assert (scale.dialect, scale.ask) == ("sma", "W")
    assert (scale.baud, scale.bytesize, scale.parity, scale.stopbits) == (9600, 8, "N", 1)
    assert scale.capacity_ug == 5_000_000_000
    assert (scale.repeatability_ug, scale.linearity_ug, scale.drift_ug) == (None, None, 0)


def test_a_scale_that_says_how_true_it_is() -> None:
    scale = load_scale("sma-fine")
    assert (scale.repeatability_ug, scale.linearity_ug, scale.drift_ug) == (10_000, 20_000, 20_000)


def test_a_cup_leaves_room_to_stir() -> None:
    cup = load_cup("paper-300")
    assert (cup.volume_ml, cup.fill, cup.mass_ug) == (300.0, 0.6, 7_000_000)
    assert cup.most_ug(1.1) == pytest.approx(198_000_000, abs=1)
    assert "unwaxed" in cup.caution


def test_the_view_of_a_resin() -> None:
    view = resin_view(load_resin("sample-blend"), confirmed=False)
    assert view["name"] == "sample-blend"
    assert view["confirmed"] is False
    assert [(c["name"], c["parts"]) for c in view["components"]] == [
        ("resin", 100),
        ("fast", 24),
        ("slow", 12),
    ]
    json.dumps(view)


# -- where a profile is found


def test_a_users_own_wins_over_the_shipped_and_a_path_over_both(config: Path, tmp_path) -> None:
    mine = put(config, "resins", "sample-36", RESIN.replace("parts = 24", "parts = 25"))
    assert load_resin("sample-36").path == mine
    given_path = put(tmp_path, "elsewhere", "sample-36", RESIN)
    assert load_resin(str(given_path)).recipe().components[1].parts == 24
    assert names("resins").count("sample-36") == 1
    put(config, "resins", "my own", RESIN)
    assert load_resin("my own").name == "my own"
    assert "my own" in names("resins")


def test_a_bare_file_name_is_a_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "here.toml").write_text(RESIN, "utf-8")
    monkeypatch.chdir(tmp_path)
    assert load_resin("here.toml").name == "here"
    with pytest.raises(ProfileError, match="no resin that is known"):
        load_resin("here")


def test_the_folders_can_be_handed_in(tmp_path: Path) -> None:
    put(tmp_path, "cups", "mug", CUP)
    assert names("cups", (tmp_path,)) == ["mug"]
    assert load_cup("mug", (tmp_path,)).name == "mug"
    assert names("cups", (tmp_path / "absent",)) == []


def test_without_a_setting_the_platforms_folder_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    import platformdirs

    monkeypatch.delenv("CUPSIDE_CONFIG")
    assert str(profiles.config_folder()) == platformdirs.user_config_dir("cupside", False)


def test_an_unknown_name_is_told_what_is_there() -> None:
    sentence = refusal(load_resin, "sampel-36")
    assert "'sampel-36' is no resin" in sentence
    assert "sample-28, sample-36, sample-blend" in sentence
    for odd in ("", "*", "..", "sample-36\0", "\ud800", "x" * 5000):
        assert "is no resin" in refusal(load_resin, odd)


def test_names_are_listed_without_the_unit_library() -> None:
    code = (
        "import sys; from mixer.app.files.profiles import names; assert names('resins')\n"
        "assert not {'pint', 'numpy', 'pandas'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


# -- what is refused


def changed(text: str, old: str, new: str) -> str:
    assert old in text, f"{old!r} is not in the profile, so this test would test nothing"
    return text.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("parts = 24", "parts = 0", ["component 2, parts", "'0'", "above 0"]),
        ("parts = 24", "parts = -24", ["component 2, parts", "'-24'"]),
        ("parts = 24", "parts = nan", ["component 2, parts", "'nan'"]),
        ("parts = 24", "parts = inf", ["component 2, parts", "'inf'"]),
        ("parts = 24", "parts = true", ["component 2, parts", "'True'"]),
        ("parts = 24", "parts = '24'", ["component 2, parts", "'24'", "a number"]),
        ("parts = 24", f"parts = 0x{'f' * 9000}", ["component 2, parts", "very many digits"]),
        ("parts = 24\n", "", ["component 2, parts", "missing"]),
        ("parts = 24", "part = 24", ["component 2, part:", "is 'parts' meant?"]),
        ("parts = 24", "parts = 24\nahew = 0", ["component 2, ahew", "'0'", "from 5 to 5000"]),
        ("parts = 24", "parts = 24\nahew = '60'", ["component 2, ahew", "a number"]),
        ("parts = 24", "parts = 24\neew = 190", ["component 2, eew", "not known here", "ahew"]),
        ("parts = 100", "parts = 100\nahew = 60", ["component 1, ahew", "not known here"]),
        ("density =", "denisty =", ["component 1, denisty", "is 'density' meant?"]),
        ("drip_time =", "driptime =", ["component 1, driptime", "is 'drip_time' meant?"]),
        ('"1.15 g/mL"', '"1.15"', ["component 1, density", "'1.15'", "no unit", "1.13 g/mL"]),
        ('"1.15 g/mL"', "1.15", ["component 1, density", "'1.15'", "text with a unit"]),
        ('"1.15 g/mL"', '"1150 g/mL"', ["component 1, density", "'1150 g/mL'"]),
        ('"1.15 g/mL"', '"1.15 kg"', ["component 1, density", "is a mass"]),
        ('"1.15 g/mL"', '"0.4 g/mL"', ["component 1, density", "0.5 to 3 g/mL"]),
        ('"8 s"', '"8 min"', ["component 1, drip_time", "'8 min'", "2 min"]),
        ('ratio = "3 %"', 'ratio = "0 %"', ["band.ratio", "'0 %'", "up to 20%"]),
        ('ratio = "3 %"', 'ratio = "21 %"', ["band.ratio", "'21 %'", "up to 20%"]),
        ('ratio = "3 %"', 'ratio = "3"', ["band.ratio", "'3'", "% sign"]),
        ('split = "15 %"', 'split = "30 %"', ["band.split", "'30 %'"]),
        ('ratio = "3 %"\n', "", ["band.ratio", "missing"]),
        ("[band]", "[bnad]", ["bnad", "is 'band' meant?"]),
        ("[room]", "[rom]", ["rom", "is 'room' meant?"]),
        ("[pot_life]", "[potlife]", ["potlife", "is 'pot_life' meant?"]),
        ('mass = "100 g"\n', "", ["pot_life.mass", "missing"]),
        ('temperature = "25 degC"\n', "", ["pot_life.temperature", "missing"]),
        ('"160 degC"', '"20 degC"', ["pot_life.peak", "'20 degC'", "above"]),
        ('"160 degC"', '"160"', ["pot_life.peak", "'160'", "no unit"]),
        ("[room]", '[pot_life.second]\ntime = "1 h"\n[room]', ["pot_life.second.mass", "missing"]),
        ("peak =", "peek =", ["pot_life.peek", "is 'peak' meant?"]),
        ('"25 degC"', '"25 delta"', ["pot_life.temperature", "'25 delta'"]),
        ('"25 degC"', '"250 degC"', ["pot_life.temperature", "'250 degC'"]),
        ("[room]", "[cure]\n[room]", ["cure.temperature", "missing"]),
        ("[room]", "[cure]\ntemperature = '25 degC'\n[room]", ["cure.temperature", "handling"]),
        ("[room]", "[cure]\ntemperature = '25 degC'\npeel = '1 day'\n[room]", ["cure"]),
        ("[room]", "[cure]\ntemperature = '25 degC'\nhandling = '1'\n[room]", ["no unit"]),
        ("[room]", "[cure]\ntemperature = '90 C'\nhandling = '9 h'\n[room]", ["5 to 60 degC"]),
        ("[room]", "[cure]\ntemperature = '25 C'\nhandling = '9 s'\n[room]", ["10 min to 30"]),
        ('ends = "usable"', 'ends = "soon"', ["pot_life.ends", "'soon'", "'gel'"]),
        ('dampest = "65 %"', 'dampest = "65"', ["room.dampest", "'65'"]),
        ('name = "slow"', 'name = "fast"', ["component name", "'fast'", "of its own"]),
        ('name = "slow"', 'name = "Slow"', ["component 3, name", "'Slow'", "a-z"]),
        ('name = "slow"', 'name = "=1+1"', ["component 3, name", "'=1+1'"]),
        ('name = "slow"', 'name = ""', ["component 3, name", "''"]),
        ('name = "slow"', 'name = "hardener"', ["component name", "'hardener'", "the sum"]),
        ('name = "slow"', 'name = "resin"', ["component name", "'resin'"]),
        ('name = "slow"', 'name = "tare"', ["component 3, name", "'tare'"]),
        ('role = "resin"', 'role = "hardener"', ["component:", "the resin first"]),
        ('role = "hardener"', 'role = "resin"', ["component:", "the resin first"]),
        ('role = "hardener"', 'role = "filler"', ["component 2, role", "'filler'"]),
        ("source =", "souce =", ["souce", "is 'source' meant?"]),
        ("source =", "# source =", ["source", "missing"]),
        ("about =", "colour =", ["colour", "not known here", "accepted: "]),
        ("about =", "about = 3 #", ["about", "'3'", "text in quotes"]),
        ('about = "', 'about = "\\n', ["about", "one line"]),
        ("[stir]", "[stir", ["is not TOML", "line"]),
        ("[stir]", "[[stir]]", ["stir", "a table [stir]"]),
        ('dampest = "65 %"', 'dampest = "65 %"\nstir = 3', ["room.stir", "not known here"]),
    ],
)
def test_a_wrong_resin_is_refused_with_file_key_value(
    tmp_path: Path, old: str, new: str, says: list[str]
) -> None:
    path = put(tmp_path, "resins", "mine", changed(RESIN, old, new))
    sentence = refusal(load_resin, path)
    assert "mine.toml" in sentence
    for part in says:
        assert part in sentence


def test_the_resin_alone_is_no_recipe(tmp_path: Path) -> None:
    head, *_, tail = RESIN.split("[[component]]")
    one = RESIN.split("[[component]]")[1]
    path = put(tmp_path, "r", "one", head + "[[component]]" + one + tail[tail.index("[band]") :])
    assert "a hardener among them" in refusal(load_resin, path)


@pytest.mark.parametrize(
    ("load", "text", "old", "new", "says"),
    [
        (load_scale, SCALE, '"sma"', '"smb"', ["dialect", "'smb'", "'sma'"]),
        (load_scale, SCALE, "baud = 9600", "baud = 9600.5", ["baud", "whole number"]),
        (load_scale, SCALE, "baud = 9600", "baud = 1", ["baud", "'1'", "300"]),
        (load_scale, SCALE, "bytesize = 8", "bytesize = 9", ["bytesize", "'9'", "7 or 8"]),
        (load_scale, SCALE, "stopbits = 1", "stopbits = true", ["stopbits", "'True'"]),
        (load_scale, SCALE, 'parity = "N"', 'parity = "none"', ["parity", "'none'", "'N'"]),
        (load_scale, SCALE, 'ask = "W"', 'ask = "Z"', ["ask", "'Z'", "'W'"]),
        (load_scale, SCALE, '"5 kg"', '"5 km"', ["capacity", "'5 km'", "is a length"]),
        (load_scale, SCALE, "capacity =", "capasity =", ["capasity", "'capacity'"]),
        (load_scale, SCALE, "ask =", 'drift = "0.1 mL"\nask =', ["drift", "'0.1 mL'", "a volume"]),
        (load_scale, SCALE, "ask =", "linearity = 0.1\nask =", ["linearity", "'0.1'", "unit"]),
        (load_scale, SCALE, "ask =", 'repeatibility = "1 g"\nask =', ["is 'repeatability' meant"]),
        (load_cup, CUP, '"300 mL"', '"300 g"', ["volume", "'300 g'", "is a mass"]),
        (load_cup, CUP, '"60 %"', '"95 %"', ["fill", "'95 %'", "5 % to 90 %"]),
        (load_cup, CUP, '"7 g"', '"0 g"', ["mass", "'0 g'"]),
        (load_cup, CUP, "material =", "# material =", ["material", "missing"]),
    ],
)
def test_a_wrong_scale_or_cup_is_refused(tmp_path, load, text, old, new, says) -> None:
    sentence = refusal(load, put(tmp_path, "x", "mine", changed(text, old, new)))
    assert "mine.toml" in sentence
    for part in says:
        assert part in sentence


def test_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    assert "cannot be read" in refusal(load_resin, tmp_path / "absent.toml")
    (tmp_path / "folder.toml").mkdir()
    assert "cannot be read" in refusal(load_resin, tmp_path / "folder.toml")
    for name, content, says in [
        ("bytes", b"\xff\xfe\x00", "line 1, byte 0 is not UTF-8"),
        ("later", b'about = "\r\n\xff"', "line 2, byte 11 is not UTF-8"),
        ("open", b'about = "x"\n\nsource = "mine', "(at line 3, where the file ends)"),
        ("large", b"# " + b"x" * 70_000, "larger than"),
        ("deep", b"x = " + b"[" * 20_000, "not TOML"),
        ("digits", b"x = " + b"9" * 20_000, "line 1: a number of 20000 digits was read"),
        ("empty", b"", "missing"),
    ]:
        path = tmp_path / f"{name}.toml"
        path.write_bytes(content)
        assert says in refusal(load_resin, path)
    assert "not a file name" in refusal(load_resin, "a\nb.toml")
    assert "not a file name" in refusal(load_resin, "\ud800/b.toml")


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_text(RESIN, "utf-8-sig")
    assert load_resin(str(path)).name == "marked"


def test_what_is_left_out_is_written_out_for_the_journal(tmp_path: Path) -> None:
    text = re.sub(r'drip_time.*\n|about.*\n|split.*\n|\[stir\]\ntime = "120 s"\n', "", RESIN)
    resin = load_resin(str(put(tmp_path, "r", "short", text[: text.index("[room]")])))
    assert [c.drip_s for c in resin.components] == [8.0, 8.0, 8.0]
    assert resin.raw["component"][0]["drip_time"] == "8 s"
    assert resin.raw["stir"] == {"time": "120 s"}
    assert resin.raw["room"] == {"coldest": "18 degC", "dampest": "65 %"}
    assert resin.raw["band"]["split"] == "15 %"


KEYS = [line.split(" = ")[0] for line in RESIN.splitlines() if " = " in line]


@given(
    st.sampled_from(range(len(RESIN.splitlines()))),
    st.sampled_from(["", *KEYS]).flatmap(
        lambda key: st.one_of(
            st.text(max_size=20),
            st.one_of(st.floats(), st.integers(), st.text(max_size=10)).map(
                lambda v: f"{key} = {json.dumps(v)}"
            ),
        )
    ),
)
def test_any_line_changed_still_gives_a_profile_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, line: int, new: str
) -> None:
    lines = RESIN.splitlines()
    lines[line] = new
    path = tmp_path_factory.getbasetemp() / "changed.toml"
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    try:
        resin = load_resin(str(path))
    except ProfileError:
        assert "changed.toml" in refusal(load_resin, path)
    else:
        assert resin.recipe().ratio > 0
        assert 0 < resin.ratio_tolerance <= 0.2
        rfc8785.dumps(resin.raw)
        tomllib.loads("\n".join(lines))
