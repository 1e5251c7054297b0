"""Layups: what a builder writes is read as it stands, and every slip is one sentence."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixer.app.files.cloth import load_filler, load_method, load_surface
from mixer.app.files.folders import names
from mixer.app.files.layup_file import load_layup, told
from mixer.app.files.toml_table import ProfileError
from mixer.plan.layup import Bead, Coat, Plies

HEAD = 'source = "x"\n\n[[step]]\nname = "skin"\nkind = "plies"\n'
PLY = '\n[[step.ply]]\nfabric = "bid-300"\nshape = "disc"\n'
DEMO = (Path(__file__).parents[2] / "profiles/layups/demo-panel.toml").read_text("utf-8")


def refusal(path: Path) -> str:
    with pytest.raises(ProfileError) as caught:
        load_layup(str(path))
    sentence = str(caught.value)
    assert sentence.isprintable()
    return sentence


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "mine.toml"
    path.write_text(text, "utf-8")
    return path


def ply_of(tmp_path: Path, outline: str, fabric: str = "bid-300") -> Path:
    return written(
        tmp_path,
        f'source = "test"\n[[step]]\nname = "skin"\nkind = "plies"\n[[step.ply]]\n'
        f'fabric = "{fabric}"\n{outline}\n',
    )


def test_the_shipped_layup_says_that_it_is_invented() -> None:
    assert names("layups") == ["demo-panel"]
    assert "invented" in DEMO.splitlines()[0]


def test_the_shipped_layup_as_it_is_read() -> None:
    layup = load_layup("demo-panel")
    assert [type(step) for step in layup.steps] == [Coat, Plies, Plies, Bead, Bead, Plies, Coat]
    assert [ply.number for ply in layup.plies] == list(range(1, 14))
    assert (layup.method, layup.resin, layup.cup) == ("squeegee", "sample-28", "paper-300")
    slurry, skin, cap, joint, fillets, tapes, peel = layup.steps
    assert isinstance(slurry, Coat)
    assert slurry.area_m2 == pytest.approx(1.2 * 0.4)
    assert slurry.mix is not None
    assert slurry.mix.name == "micro slurry"
    assert isinstance(skin, Plies)
    assert [ply.area_m2 for ply in skin.plies] == pytest.approx([0.48, 0.48, 1.2 * 0.35])
    assert [ply.orientation for ply in skin.plies] == ["45 deg", "45 deg", "0 deg"]
    assert isinstance(cap, Plies)
    lengths = [1.2 - 0.1 * i for i in range(6)]
    assert [ply.area_m2 for ply in cap.plies] == pytest.approx([0.076 * x for x in lengths])
    assert isinstance(joint, Bead)
    assert joint.volume_ml == pytest.approx(35 * 0.6 * 0.3)
    assert isinstance(fillets, Bead)
    # Geometry: two fillets of 10 mm, r2 (1 - pi/4) each, 350 mm long.
    assert fillets.volume_ml == pytest.approx(2 * 35 * (1 - math.pi / 4))
    assert isinstance(tapes, Plies)
    assert [ply.area_m2 for ply in tapes.plies] == pytest.approx([0.35 * 0.05] * 4)
    assert isinstance(peel, Coat)
    assert told(layup)[0] == "demo-panel: 13 plies in 7 steps"
    assert len(told(layup)) == 8


@pytest.mark.parametrize(
    ("outline", "m2"),
    [
        ('shape = "rectangle"\nlength = "2 ft"\nwidth = "12 in"', 0.6096 * 0.3048),
        ('shape = "tape"\nlength = "1 m"\nwidth = "40 mm"', 0.04),
        ('shape = "trapezoid"\nlength = "2 m"\nroot = "900 mm"\ntip = "600 mm"', 1.5),
        ('shape = "triangle"\nbase = "300 mm"\nheight = "200 mm"', 0.03),
        ('shape = "disc"\ndiameter = "100 mm"', math.pi / 400),
        ('shape = "ring"\nouter = "100 mm"\ninner = "50 mm"', math.pi / 400 * 0.75),
        ('shape = "polygon"\npoints = "0 0, 400 0, 400 300, 0 300 mm"', 0.12),
        ('shape = "polygon"\npoints = "0 0, 40 0, 40 -30.5, 0 -30 cm"', 0.121),
        ('shape = "polygon"\npoints = "0 0, 15.748031496062992 0, 0 10.0 in"', 0.0508),
    ],
)
def test_every_shape(tmp_path: Path, outline: str, m2: float) -> None:
    [ply] = load_layup(str(ply_of(tmp_path, outline))).plies
    assert ply.area_m2 == pytest.approx(m2)


@pytest.mark.parametrize("angle", ["0 deg", "45 deg", "±45 deg", "-30°", "22.5 deg", "180 deg"])
def test_an_orientation_is_kept_as_written(tmp_path: Path, angle: str) -> None:
    outline = f'shape = "disc"\ndiameter = "1 m"\norientation = "{angle}"'
    [ply] = load_layup(str(ply_of(tmp_path, outline))).plies
    assert ply.orientation == angle


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('fabric = "bid-300"', 'fabric = "bid-30"', ["step 2, ply 1, fabric", "'bid-30'", "uni-"]),
        ('length = "1.2 m"\nwidth', "width", ["step 1, length", "is missing"]),
        (
            'length = "1.2 m"',
            'length = "0 m"',
            ["step 1, length", "'0 m'", "accepted: 0.01 mm to 100 m"],
        ),
        (
            'length = "1.2 m"',
            'length = "-1 m"',
            ["'-1 m' was read; accepted: 0.01 mm to 100 m"],
        ),
        (
            'length = "1.2 m"',
            'length = "2 km"',
            ["'2 km' was read; accepted: 0.01 mm to 100 m"],
        ),
        ('length = "1.2 m"', 'length = "-1 m"', ["step 1, length", "'-1 m'"]),
        ('length = "1.2 m"', 'length = "1.2"', ["step 1, length", "no unit"]),
        ('length = "1.2 m"', 'length = "200 m"', ["step 1, length", "100 m"]),
        ('width = "400 mm"', 'width = "400 g"', ["step 1, width", "is a mass"]),
        ('width = "400 mm"', 'diameter = "400 mm"', ["step 1, width", "is missing"]),
        ('shape = "rectangle"', 'shape = "square"', ["step 1, shape", "'square'", "'taper'"]),
        ('shorter = "100 mm"', 'shorter = "240 mm"', ["step 3, ply 1, shorter", "less than 240"]),
        ("count = 2", "count = 0", ["step 2, ply 1, count", "'0'"]),
        ("count = 2", "count = 2.5", ["step 2, ply 1, count", "whole number"]),
        ("count = 6", "cuont = 6", ["step 3, ply 1, cuont", "is 'count' meant?"]),
        ('"45 deg"', '"45"', ["step 2, ply 1, orientation", "'45'", "'45 deg'"]),
        ('"45 deg"', '"270 deg"', ["step 2, ply 1, orientation", "up to 180"]),
        ('kind = "slurry"', 'kind = "slury"', ["step 1, kind", "'slury'", "'slurry'"]),
        ('surface = "foam-fine"', 'surface = "peel-ply"', ["step 1, surface", "kind 'core'"]),
        ('surface = "peel-ply"', 'surface = "foam-fine"', ["step 7, surface", "'peel ply'"]),
        ('surface = "foam-fine"', 'surface = "wood"', ["step 1, surface", "foam-coarse"]),
        ('filler = "flox"', 'filler = "floss"', ["step 4, filler", "'floss'", "microballoons"]),
        ('mix = "wet micro"', 'mix = "flox"', ["step 5, mix", "'flox'", "'dry micro'"]),
        ('mix = "wet micro"\n', "", ["step 5, mix", "is missing", "'micro slurry'"]),
        ('radius = "10 mm"', 'radius = "0 mm"', ["step 5, radius", "accepted: 0.01 mm to"]),
        ('mix = "micro slurry"\n', "", ["step 1, mix", "is missing", "'micro slurry'"]),
        ('depth = "3 mm"\n', "", ["step 4, depth", "is missing"]),
        ('method = "squeegee"', 'method = "vacuum"', ["method", "'vacuum'", "brush"]),
        ('resin = "sample-28"', 'resin = "sample"', ["resin", "'sample'", "sample-36"]),
        ('cup = "paper-300"', 'cup = "mug"', ["cup", "'mug'", "paper-150"]),
        ("source =", "# source =", ["source", "is missing"]),
        ("[[step]]", "[step]", ["is not TOML", "line"]),
        ("[[step.ply]]", "[step.ply]", ["is not TOML", "line"]),
    ],
)
def test_a_slip_is_refused_with_file_and_key(
    tmp_path: Path, old: str, new: str, says: list[str]
) -> None:
    assert old in DEMO
    sentence = refusal(written(tmp_path, DEMO.replace(old, new, 1)))
    for part in ("mine.toml", *says):
        assert part in sentence


def test_a_fabric_that_is_not_there_is_a_slip_of_this_layup(tmp_path: Path) -> None:
    outline = 'shape = "disc"\ndiameter = "1 m"'
    said = refusal(ply_of(tmp_path, outline, "cloth/my-bid.toml"))
    assert said.startswith(f"{tmp_path}/mine.toml: line 6, step 1, ply 1, fabric: 'cloth/my-bid")
    assert "accepted: one of bid-200, " in said
    assert f"or the path of a .toml file that is there, from {tmp_path}" in said
    table = tmp_path / "plies.csv"
    table.write_text("fabric,shape,diameter\nmy-bid.toml,disc,1 m\n", "utf-8")
    assert f"{table}: line 2, fabric: 'my-bid.toml' was read; accepted: one of" in refusal(table)


def test_a_surface_of_the_wrong_kind_is_named_as_it_was_written(tmp_path: Path) -> None:
    (tmp_path / "s.toml").write_text(
        'source = "x"\nkind = "peel ply"\n'
        'uptake = { low = "50 g/m2", value = "60 g/m2", high = "70 g/m2" }\n',
        "utf-8",
    )
    said = refusal(written(tmp_path, DEMO.replace('"foam-fine"', '"./s.toml"', 1)))
    assert "step 1, surface: './s.toml' was read" in said


@pytest.mark.parametrize("heading", ["[[ply]]", "[step.ply]", "[[step.plies]]"])
def test_a_ply_under_another_heading_is_told_how_it_is_written(
    tmp_path: Path, heading: str
) -> None:
    path = ply_of(tmp_path, 'shape = "disc"\ndiameter = "1 m"')
    path.write_text(path.read_text("utf-8").replace("[[step.ply]]", heading), "utf-8")
    assert "accepted: tables [[step.ply]]" in refusal(path)


def test_a_slip_in_a_fabrics_own_file_has_its_line(tmp_path: Path) -> None:
    fabric = tmp_path / "my-bid.toml"
    kept = 'source = "mine"\nkind = "BID"\n'
    fabric.write_text(f'{kept}areal_weight = "300 g"\nfibre_density = "2.5 g/mL"\n', "utf-8")
    path = ply_of(tmp_path, 'shape = "disc"\ndiameter = "1 m"', "my-bid.toml")
    assert f"{fabric}: line 3, areal_weight: '300 g'" in refusal(path)
    fabric.write_text(kept, "utf-8")  # what is not there belongs where its table begins
    named = f"{path}: line 6, step 1, ply 1, fabric: {fabric}: line 1, areal_weight: is missing"
    assert refusal(path).startswith(named)
    table = tmp_path / "plies.csv"
    table.write_text("fabric,shape,diameter\nmy-bid.toml,disc,1 m\n", "utf-8")
    assert refusal(table).startswith(
        f"{table}: line 2, fabric: {fabric}: line 1, areal_weight: is missing"
    )


def test_a_number_that_is_too_long_to_be_read_is_told_with_its_line(tmp_path: Path) -> None:
    path = ply_of(tmp_path, f'shape = "disc"\ndiameter = "1 m"\ncount = {"9" * 5000}')
    said = refusal(path)
    assert said.startswith(f"{path}: line 9: a number of 5000 digits was read; accepted: ")


@pytest.mark.parametrize(
    ("outline", "says"),
    [
        ('shape = "polygon"\npoints = "0 0, 9 9, 9 0, 0 9 mm"', "do not cross or touch"),
        ('shape = "polygon"\npoints = "0 0, 9 9, 9 0, 0 9"', "with their unit at the end"),
        ('shape = "polygon"\npoints = "0 0, 9 9, 9 0, 0 9 kg"', "three corners or more"),
        ('shape = "polygon"\npoints = "0 0, 9 9, 9 mm"', "three corners or more"),
        ('shape = "polygon"\npoints = "0 0, 9 9, 9 1.2.3 mm"', "three corners or more"),
        ('shape = "polygon"\npoints = "0 0, 9 9 mm"', "three corners or more"),
        ('shape = "polygon"\npoints = "0 0, 9 9, 0 999 m"', "within 100 m"),
        (
            'shape = "polygon"\npoints = "0 0, 0.00001 0, 0 0.000004 m"',
            "line 8, step 1, ply 1, points: '0 0, 0.00001 0, 0 0.000004 m' was read; accepted: "
            "corners round 1 mm2 or more, here 2e-05 mm2",
        ),
        ('shape = "disc"\ndiameter = "1.1 mm"', "accepted: one of 1 mm2 or more, here 0.95"),
        ('shape = "ring"\nouter = "1 m"\ninner = "1.1 m"', "below the outer one"),
        ('shape = "tape"\nlength = "1 m"\nwidth = "0 mm"', "accepted: 0.01 mm to"),
        ('shape = "disc"\ndiameter = "1 m"\ncount = 1001', "from 1 to 1000"),
    ],
)
def test_an_outline_that_is_none_is_refused(tmp_path: Path, outline: str, says: str) -> None:
    assert says in refusal(ply_of(tmp_path, outline))


def test_a_tape_without_a_width_has_that_of_its_roll(tmp_path: Path) -> None:
    outline = 'shape = "tape"\nlength = "1 m"'
    [ply] = load_layup(str(ply_of(tmp_path, outline, "uni-tape-650"))).plies
    assert ply.area_m2 == pytest.approx(0.076)


def test_cloth_that_is_no_tape_has_no_width_of_its_own(tmp_path: Path) -> None:
    outline = 'shape = "tape"\nlength = "350 mm"'
    said = refusal(ply_of(tmp_path, outline, "bid-200"))
    assert said.startswith(f"{tmp_path}/mine.toml: line ")
    assert "width: is missing" in said
    table = tmp_path / "plies.csv"
    table.write_text("fabric,shape,length\nbid-300,tape,350 mm\n", "utf-8")
    assert f"{table}: line 2, width: is missing" in refusal(table)


@pytest.mark.parametrize("shape", ["tape", "taper"])
def test_a_tape_is_no_wider_than_its_roll(tmp_path: Path, shape: str) -> None:
    outline = f'shape = "{shape}"\nlength = "1 m"\nshorter = "1 cm"\nwidth = "{{}}"'
    if shape == "tape":
        outline = outline.replace('shorter = "1 cm"\n', "")
    said = refusal(ply_of(tmp_path, outline.format("3 m"), "uni-tape-650"))
    assert said.startswith(f"{tmp_path}/mine.toml: line ")
    assert "width: '3 m' was read; accepted: up to 76 mm, which is its roll" in said
    [ply] = load_layup(str(ply_of(tmp_path, outline.format("3 in"), "uni-tape-650"))).plies
    assert ply.area_m2 == pytest.approx(0.0762)  # as it is told in the trade
    table = tmp_path / "plies.csv"
    table.write_text("fabric,shape,length,width\nuni-tape-650,tape,1 m,3 m\n", "utf-8")
    assert f"{table}: line 2, width: '3 m' was read; accepted: up to 76 mm" in refusal(table)


def test_a_profile_beside_the_layup_is_found_from_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    cloth = (Path(__file__).parents[2] / "profiles/fabrics/bid-300.toml").read_text("utf-8")
    (tmp_path / "cloth").mkdir()
    (tmp_path / "cloth" / "heavy.toml").write_text(cloth.replace("300 g", "400 g"), "utf-8")
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    path = ply_of(tmp_path, 'shape = "disc"\ndiameter = "1 m"', "cloth/heavy.toml")
    [ply] = load_layup(str(path)).plies
    assert (ply.fabric.name, ply.fabric.areal_g_m2) == ("heavy", 400)
    gone = ply_of(tmp_path, 'shape = "disc"\ndiameter = "1 m"', "cloth/gone.toml")
    assert "fabric: 'cloth/gone.toml' was read" in refusal(gone)


def test_a_layup_has_no_end_of_plies(tmp_path: Path) -> None:
    one = '[[step.ply]]\nfabric = "bid-300"\nshape = "disc"\ndiameter = "1 m"\ncount = 1000\n'
    text = f'source = "test"\n[[step]]\nname = "skin"\nkind = "plies"\n{one * 3}'
    assert "up to 2000 plies" in refusal(written(tmp_path, text))


KEYS = sorted({line.split(" = ")[0] for line in DEMO.splitlines() if " = " in line})


@settings(max_examples=25)
@given(
    st.sampled_from(range(len(DEMO.splitlines()))),
    st.sampled_from([*KEYS, "points", "together"]),
    st.one_of(
        st.floats(), st.integers(), st.text(max_size=10), st.sampled_from(["0 mm", "1 m", "disc"])
    ),
)
def test_any_line_changed_still_gives_a_layup_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, line: int, key: str, value: object
) -> None:
    lines = DEMO.splitlines()
    lines[line] = f"{key} = {json.dumps(value)}"
    path = tmp_path_factory.getbasetemp() / "changed.toml"
    path.write_bytes("\n".join(lines).encode("utf-8", "surrogatepass"))
    try:
        layup = load_layup(str(path))
    except ProfileError:
        assert "changed.toml" in refusal(path)
    else:
        assert all(0 < ply.area_m2 < 1e4 for ply in layup.plies)


def test_a_layup_without_a_step_is_none(tmp_path: Path) -> None:
    assert "one or more [[step]]" in refusal(written(tmp_path, 'source = "test"\nstep = []\n'))
    text = 'source = "test"\n[[step]]\nname = "skin"\nkind = "plies"\nply = []\n'
    assert "one or more [[step.ply]]" in refusal(written(tmp_path, text))


def inline(count: int, wrong: int) -> str:
    """So many plies in one list, one a line; the cloth of one of them there is not."""
    cloths = ["glass" if at == wrong else "bid-300" for at in range(count)]
    plies = [f'{{fabric = "{cloth}", shape = "disc", diameter = "1 m"}},' for cloth in cloths]
    return "ply = [\n" + "\n".join(plies) + "\n]"


@pytest.mark.parametrize(
    ("text", "where"),
    [
        (HEAD + PLY + 'diameter = "0 mm"', "line 10, step 1, ply 1, diameter: '0 mm' was read"),
        (HEAD + PLY, "line 7, step 1, ply 1, diameter: is missing"),
        (
            HEAD + PLY + 'diameter = "1 m"\n' + PLY + 'diameter = "1 m"\nwidth = 3',
            "line 16, step 1, ply 2, width",
        ),
        (HEAD + 'speed = "3"' + PLY, "line 6, step 1, speed: is not known here"),
        ('source = "x"\nspeed = 3\n' + HEAD[13:] + PLY, "line 2, speed: is not known here"),
        (HEAD + '\n[step.odd]\nname = "x"\n' + PLY, "line 7, step 1, odd: is not known here"),
        (
            HEAD + '\n[step.odd]\nfabric = "x"\n' + PLY.replace("bid-300", "none"),
            "line 11, step 1, ply 1, fabric: 'none' was read",
        ),
        ('source = "x"\nstep = [{name = "a", kind = "b"}]', "line 2, step 1, kind: 'b'"),
        (HEAD.replace('"skin"', '"""skin\n[[step]]"""') + PLY, "line 4, step 1, name: "),
        (HEAD.replace("[[step]]", '[["step"]]') + 'speed = "3"' + PLY, "line 6, step 1, speed: is"),
        (
            HEAD.replace("[[step]]", "[[step]] # \u2028") + PLY + 'diameter = "0 mm"',
            "line 10, step 1, ply 1, diameter: '0 mm'",
        ),
        (HEAD + PLY.replace("fabric", "'fabric'").replace("bid-", "x"), "line 8, step 1, ply 1, f"),
        (HEAD + 'ply = [{fabric = "bid-300"}]', "line 6, step 1, ply 1, shape: is missing"),
        (HEAD + 'ply = [\n{fabric = "bid-300"}]', "line 7, step 1, ply 1, shape: is missing"),
        (HEAD + inline(400, 250), "line 257, step 1, ply 251, fabric: 'glass' was read"),
        (HEAD + inline(9, 4).replace("\n", ""), "line 6, step 1, ply 5, fabric: 'glass' was read"),
        (
            f'source = "x"\nstep = [\n{{name = "skin", kind = "plies", {inline(9, 4)}}},\n]',
            "line 8, step 1, ply 5, fabric: 'glass' was read",
        ),
        (
            HEAD + 'ply = [\n{fabric = """\nbid-300""", shape = "none"}]',
            "step 1, ply 1, shape: 'none' was read",
        ),
        (HEAD + f"ply = [{chr(10) * 60}]", "line 6, step 1, ply: 'none' was read"),
        (HEAD + f'speed = """{chr(10) * 300}"""' + PLY, "step 1, speed: is not known here"),
        (HEAD + PLY + 'diameter.is = "1 m"', "line 10, step 1, ply 1, diameter: "),
        ('"step 1, name" = 3\n' + HEAD + PLY + 'diameter = "1 m"', "line 1, step 1, name: is not"),
    ],
)
def test_a_slip_is_told_with_its_line_where_that_is_plain(
    tmp_path: Path, text: str, where: str
) -> None:
    file = tmp_path / "a.toml"
    if "diameter" not in text and "missing" not in where:
        text += 'diameter = "1 m"\n' if PLY in text else ""
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError) as caught:
        load_layup(str(file))
    said = str(caught.value).removeprefix(f"{file}: ")
    assert where in said
    assert said.startswith("line ") == where.startswith("line ")


@pytest.mark.parametrize(
    ("folder", "profile", "old", "new", "where"),
    [
        ("methods", "squeegee", 'value = "40 %"', 'value = "90 %"', "resin_fraction.value"),
        ("methods", "squeegee", 'high = "8 %"', 'hihg = "8 %"', "lost.hihg"),
        ("methods", "squeegee", 'high = "8 %"', 'high = "1 %"', "lost.high"),
        ("methods", "squeegee", 'low = "2 %"', 'low = "9 %"', "lost.low"),
        ("methods", "squeegee", 'value = "4 %"', 'value = "9 %"', "lost.value"),
        ("methods", "squeegee", "high = 1.2", "high = 12", "apply.high"),
        ("surfaces", "foam-fine", 'high = "', 'high = "9', "uptake.high"),
        ("fillers", "flox", 'high = "0.13 g/mL"', 'high = "9 g/mL"', "bulk_density.high"),
        ("fillers", "flox", "high = 2.5", "high = 99", "mix 1, high"),
    ],
)
def test_a_slip_in_a_table_of_a_profile_has_its_line(
    tmp_path: Path, folder: str, profile: str, old: str, new: str, where: str
) -> None:
    shipped = Path(__file__).parents[2] / f"profiles/{folder}/{profile}.toml"
    text = shipped.read_text("utf-8")
    assert text.count(old) == 1
    file = tmp_path / "mine.toml"
    file.write_text(text.replace(old, new), "utf-8")
    load = {"methods": load_method, "surfaces": load_surface, "fillers": load_filler}[folder]
    with pytest.raises(ProfileError) as caught:
        load(str(file))
    found = str(caught.value)
    line = int(found.removeprefix(f"{file}: line ").partition(",")[0])
    assert found.startswith(f"{file}: line {line}, {where}: ")
    key = where.split(".")[-1].split(", ")[-1]
    assert file.read_text("utf-8").split("\n")[line - 1].startswith(key)


def test_whichever_line_is_wrong_is_the_one_that_is_named(tmp_path: Path) -> None:
    lines = DEMO.split("\n")
    keys = [at for at, line in enumerate(lines) if " = " in line]
    assert len(keys) > 40
    for at in keys:
        key = lines[at].split(" = ")[0]
        changed = [*lines[:at], f"{key} = -1", *lines[at + 1 :]]
        said = refusal(written(tmp_path, "\n".join(changed)))
        assert f"mine.toml: line {at + 1}, " in said
