"""Profiles of cloth, surfaces, fillers and methods: what is shipped, and what is refused."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
import rfc8785

from mixer.app.bench.splitting import known_fillers
from mixer.app.files.cloth import load_fabric, load_filler, load_method, load_surface, plain_fabric
from mixer.app.files.folders import find, names
from mixer.app.files.toml_table import ProfileError, read_toml
from mixer.plan.cloth import Range
from mixer.units import UnitsError, fraction

LOADERS = {
    "fabrics": load_fabric,
    "surfaces": load_surface,
    "fillers": load_filler,
    "methods": load_method,
}
SHIPPED = [(kind, name) for kind in LOADERS for name in names(kind)]  # type: ignore[arg-type]


def text_of(kind: str, name: str) -> str:
    return (Path(__file__).parents[2] / "profiles" / kind / f"{name}.toml").read_text("utf-8")


@pytest.mark.parametrize(("kind", "name"), SHIPPED)
def test_everything_shipped_loads_and_says_where_it_is_from(kind, name) -> None:
    loaded = LOADERS[kind](name)
    assert loaded
    source = read_toml(find(kind, name)).text("source")
    assert re.search("invented|typical|common practice|memory", source)


def test_enough_is_shipped() -> None:
    assert {load_fabric(name).kind for name in names("fabrics")} == {"UNI", "BID", "tape"}
    assert {load_surface(name).kind for name in names("surfaces")} == {"core", "peel ply"}
    mixes = [mix.name for name in names("fillers") for mix in load_filler(name)]
    assert mixes == ["flox", "micro slurry", "wet micro", "dry micro"]


def test_a_fabric_in_plain_numbers() -> None:
    tape = load_fabric("uni-tape-650")
    assert (tape.areal_g_m2, tape.roll_mm, tape.together) == (650, 76, 2)
    # 8.8 oz/yd2: 33.906 g/m2 an ounce, by the definitions of ounce and yard.
    assert load_fabric("bid-9oz").areal_g_m2 == pytest.approx(8.8 * 33.906, abs=0.01)
    assert load_surface("foam-fine").uptake_g_m2 == Range(60, 100, 160)


def test_the_usual_method_is_what_the_trade_does() -> None:
    # Common practice, no source: apply about the cloth's own weight; about 40 % should
    # stay, above 50 % is heavy.
    method = load_method("squeegee")
    assert method.apply.value == 1
    assert method.resin_fraction.value == 0.4
    assert method.resin_fraction.high <= 0.5


@pytest.mark.parametrize("written", ["0 %", "3 %", "0.05"])
def test_a_methods_resin_fraction_may_be_what_one_that_is_asked_for_may_be(
    tmp_path: Path, written: str
) -> None:
    text = (Path(__file__).parents[2] / "profiles/methods/squeegee.toml").read_text("utf-8")
    file = tmp_path / "mine.toml"
    for figure in ('"36 %"', '"40 %"'):
        assert figure in text
        text = text.replace(figure, f'"{written}"')
    file.write_text(text, "utf-8")
    assert load_method(str(file)).resin_fraction.value == fraction(written, "")


def test_micro_is_as_stiff_as_the_trade_has_it() -> None:
    # Common practice, no source: slurry about 1:1, wet 2 to 4:1, dry to 5:1 or more, flox
    # about 2:1, bulk densities vary by 30 %.
    ratio = {m.name: m.by_volume for name in names("fillers") for m in load_filler(name)}
    assert ratio["micro slurry"].value == 1
    assert (ratio["wet micro"].low, ratio["wet micro"].high) == (2, 4)
    assert ratio["dry micro"].value == 5
    assert ratio["flox"].value == 2
    for name in names("fillers"):
        bulk = load_filler(name)[0].bulk_g_ml
        assert bulk.high / bulk.value == pytest.approx(1.3, abs=0.05)


def test_at_the_bench_a_filler_begins_with_the_least_that_there_may_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fillers, trouble = known_fillers()
    assert trouble == ""
    mixes = [mix for name in names("fillers") for mix in load_filler(name)]
    for filler, mix in zip(fillers, mixes, strict=True):
        assert (filler.name, filler.volumes) == (mix.name, mix.by_volume.low)
        assert filler.bulk_g_per_ml == mix.bulk_g_ml.low
        assert re.search("common practice", filler.about["source"])
        assert json.loads(rfc8785.dumps(filler.about)) == filler.about
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path))
    folder = tmp_path / "fillers"
    folder.mkdir(parents=True)
    (folder / "mine.toml").write_text("[", "utf-8")
    others, trouble = known_fillers()  # the others are there, and it is told
    assert others == fillers
    assert "mine.toml" in trouble


@pytest.mark.parametrize(
    ("kind", "name", "old", "new", "says"),
    [
        ("fabrics", "bid-300", '"300 g/m2"', '"300"', ["areal_weight", "no unit"]),
        ("fabrics", "bid-300", '"300 g/m2"', '"0 g/m2"', ["areal_weight", "10 to 5000"]),
        ("fabrics", "bid-300", '"300 g/m2"', '"300 g"', ["areal_weight", "is a mass"]),
        ("fabrics", "bid-300", '"2.54 g/mL"', '"25.4 g/mL"', ["fibre_density", "0.9 to 8"]),
        ("fabrics", "bid-300", '"BID"', '"bid"', ["kind", "'bid'", "'BID'"]),
        ("fabrics", "bid-300", '"5 %"', '"50 %"', ["areal_spread", "'50 %'"]),
        ("fabrics", "bid-300", "roll_width", "width", ["width", "not known here"]),
        ("fabrics", "uni-tape-650", 'roll_width = "76 mm"\n', "", ["roll_width", "missing"]),
        ("fabrics", "uni-tape-650", "together = 2", "together = 0", ["together", "'0'"]),
        ("fabrics", "uni-tape-650", "together = 2", "together = 1.5", ["together", "whole"]),
        ("fabrics", "bid-300", "source =", "# source =", ["source", "missing"]),
        ("surfaces", "foam-fine", '"core"', '"foam"', ["kind", "'foam'"]),
        ("surfaces", "foam-fine", 'low = "60', 'low = "600', ["uptake.low", "none below"]),
        ("surfaces", "foam-fine", 'high = "160 g/m2"\n', "", ["uptake.high", "missing"]),
        ("fillers", "flox", 'high = "0.13', 'high = "1.6', ["bulk_density.high", "1.5 g/mL"]),
        ("fillers", "flox", "value = 2", "value = 3", ["mix 1, value", "none below"]),
        ("fillers", "flox", "low = 1.5", "low = 0", ["mix 1, low", "from 0.1"]),
        ("fillers", "flox", '"flox"', '"Flox 2"', ["mix 1, name", "a-z, - and blanks"]),
        ("fillers", "microballoons", '"wet micro"', '"dry micro"', ["mix", "each with its name"]),
        ("methods", "squeegee", '"10 g/min"', '"10 g"', ["rate", "is a mass"]),
        ("methods", "squeegee", '"46 %"', '"81 %"', ["resin_fraction.high", "0% to 80%"]),
        ("methods", "squeegee", "value = 1.0", 'value = "1"', ["apply.value", "a number"]),
        ("methods", "squeegee", "[lost]", "[last]", ["last", "is 'lost' meant?"]),
    ],
)
def test_a_slip_is_refused_with_file_and_key(
    tmp_path: Path, kind: str, name: str, old: str, new: str, says: list[str]
) -> None:
    text = text_of(kind, name)
    assert old in text
    path = tmp_path / "mine.toml"
    path.write_text(text.replace(old, new, 1), "utf-8")
    with pytest.raises(ProfileError) as caught:
        LOADERS[kind](str(path))
    for part in ("mine.toml", *says):
        assert part in str(caught.value)


def test_a_cloth_of_which_only_the_weight_is_known() -> None:
    assert plain_fabric("9 oz/yd2").areal_g_m2 == pytest.approx(305.15, abs=0.01)
    for text in ("3 g/m2", "9 kg/m2", "300 g", "-5 g/m2"):
        with pytest.raises(UnitsError, match="fabric: "):
            plain_fabric(text)
