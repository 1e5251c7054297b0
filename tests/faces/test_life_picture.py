"""``cupside life --plot``: what is drawn, and what is not written over."""

from __future__ import annotations

import sys
from pathlib import Path
from xml.etree import ElementTree

import pytest
from PIL import Image
from support.command import one_sentence

from mixer.app.life.life import of_case
from mixer.app.life.life_asked import Asked, read
from mixer.app.life.life_picture import drawn, may_draw, thickened
from mixer.cli import main
from mixer.science.fitting import fit
from mixer.science.label import follow

Capture = pytest.CaptureFixture[str]
WORDS = ["life", "--resin", "sample-28", "--mass", "60g", "--air", "20degC"]


def test_an_svg_says_in_words_what_it_shows(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "pictures" / "life.svg"
    path.parent.mkdir()
    assert main([*WORDS, "--plot", str(path)]) == 0
    assert "working time  about" in capsys.readouterr().out
    text = " ".join(ElementTree.parse(path).getroot().itertext())
    for words in (
        "60 g of sample-28, air 20 degC",
        "An estimate: the maker's data sheet comes first",
        "temperature, its mean, degC",
        "conversion, %",
        "viscosity, times the start",
        "minutes since hardener met resin",
        "working time, its range",
        "hottest by what is doubted",
    ):
        assert words in text
    assert may_draw(str(path)) == path  # a picture may be drawn over a picture
    assert [file.name for file in path.parent.iterdir()] == ["life.svg"]


def test_a_png_is_one(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "life.PNG"
    path.touch()
    film = ["--shape", "film", "--json"]
    assert main([*WORDS, *film, "--plot", str(path)]) == 0
    assert capsys.readouterr().out.startswith("{")
    with Image.open(path) as picture:
        assert picture.format == "PNG"
        assert min(picture.size) >= 600


def test_a_link_keeps_pointing_at_the_picture(tmp_path: Path, capsys: Capture) -> None:
    there, link = tmp_path / "there.png", tmp_path / "life.png"
    there.touch()
    link.symlink_to(there)
    assert main([*WORDS, "--plot", str(link)]) == 0
    assert link.is_symlink()
    assert there.read_bytes().startswith(b"\x89PNG")


def test_it_draws_the_course_and_the_figures_of_the_answer() -> None:
    case = read(Asked("sample-28", "60 g", "20 degC", shape="stack", depth="9 mm"))
    found, label = of_case(case), case.label
    course = follow(fit(label), label, case.mass_g, case.air_c, case.start_c, case.shape)
    temperature, conversion, viscosity = drawn(case, found, course).axes
    assert max(temperature.lines[0].get_ydata()) == pytest.approx(found["peak_c"], abs=1)
    assert temperature.lines[0].get_xdata()[-1] == course.t_s[-1] / 60
    assert max(conversion.lines[0].get_ydata()) == 100 * max(course.conversion)
    marks = {line.get_xdata()[0] for axes in (temperature, viscosity) for line in axes.lines}
    assert {found["working_min"], found["gel_min"]} <= marks
    handles, names = temperature.get_legend_handles_labels()
    assert names[1:3] == ["foam softens", "foam, hottest by what is doubted"]
    assert handles[2].get_ydata()[0] == found["foam"]["hottest_c"] > found["foam"]["peak_c"]
    assert viscosity.get_xlim()[1] > found["peak_min"]
    kept_cool = thickened(course, case, as_warm=False)
    assert kept_cool[0] == (0.0, 1.0)
    assert [times for _, times in kept_cool] == sorted(times for _, times in kept_cool)
    # Where the label's pot life ends, which is twice as thick, it is so at one temperature.
    ends = min(kept_cool, key=lambda point: abs(point[0] - found["working_min"]))
    assert ends[1] == pytest.approx(2, rel=0.1)
    # Its own warmth thins it meanwhile.
    pairs = zip(thickened(course, case, as_warm=True), kept_cool, strict=True)
    assert all(warm <= cool for (_, warm), (_, cool) in pairs)


def test_without_matplotlib_one_sentence_says_what_to_install(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    path = tmp_path / "life.svg"
    assert main([*WORDS, "--plot", str(path)]) == 2
    told = capsys.readouterr()
    assert (told.out, path.exists()) == ("", False)
    assert one_sentence(told.err)
    assert "pip install 'cupside[plot]'" in told.err


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("life.jpg", "give a file that ends in .svg or .png"),
        ("life", "give a file that ends in .svg or .png"),
        ("no-folder/life.svg", "there is no folder"),
        ("folder.svg", "is not a file"),
        ("letter.svg", "is no picture, and was not overwritten"),
        ("other.png", "is no picture, and was not overwritten"),
        (f"{300 * 'x'}.svg", "cannot be written: File name too long"),
        (f"{300 * 'x'}/life.svg", "x/life.svg"),
    ],
)
def test_what_is_no_picture_is_not_written_over(
    tmp_path: Path, capsys: Capture, name: str, said: str
) -> None:
    (tmp_path / "folder.svg").mkdir()
    for kept in ("letter.svg", "other.png"):
        (tmp_path / kept).write_text("<?dear reader", "utf-8")
    assert main([*WORDS, "--plot", str(tmp_path / name)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert one_sentence(told.err)
    assert said in told.err
    assert (tmp_path / "other.png").read_text("utf-8") == "<?dear reader"


def test_where_there_is_no_figure_there_is_no_picture(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "life.svg"
    assert main([*WORDS[:3], "--mass", "2kg", "--plot", str(path)]) == 1
    told = capsys.readouterr()
    assert "No figure: the model was checked for" in told.out
    assert "nothing was drawn" in told.err
    assert not path.exists()
