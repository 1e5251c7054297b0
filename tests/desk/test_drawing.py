"""Every stage is drawn, whole and legible, and every figure is that of the picture."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.benches import ALL, CROWDED, CURES, EASE, FIRST, LIVE, PLACE, READY
from support.desk import Desk, FakeShop, texts_of
from support.quiet import CUES

from mixer.app.picture import LiveCup, Picture, Row, ScaleView
from mixer.app.words import MAY_SLEEP
from mixer.desk import look
from mixer.desk.cup import BRIM, has_band, heights
from mixer.desk.words import clock, countdown, plain
from mixer.pour.words import CUP_OFF

SIZES = ((1024, 600), (1280, 800), (760, 440))
LEADING = 0.25  # the part of a line's height in which no letter of these texts stands


@pytest.fixture(scope="module")
def bench(own_display: str) -> Iterator[Desk]:
    """One window for all drawings."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DISPLAY", own_display)
        opened = Desk(own_display, FakeShop(), None)
        yield opened
        opened.end()


def resize(bench: Desk, width: int, height: int) -> None:
    root = bench.window.root
    root.geometry(f"{width}x{height}")
    bench.until(lambda: (root.winfo_width(), root.winfo_height()) == (width, height))
    root.update()


def faults(bench: Desk) -> list[str]:
    """Texts that leave their panel or run into one another, and panels that overlap."""
    found = []
    places = []
    for canvas in bench.canvases():
        wide, tall = canvas.winfo_width(), canvas.winfo_height()
        x, y = canvas.winfo_rootx(), canvas.winfo_rooty()
        places.append((x, y, x + wide, y + tall, str(canvas)))
        boxes = []
        for item, said in texts_of(canvas):
            x0, y0, x1, y1 = canvas.bbox(item)
            lines = said.count("\n") + 1
            thin = LEADING * (y1 - y0) / max(lines, round((y1 - y0) / 20))
            if x0 < -2 or x1 > wide + 2 or y0 + thin < 0 or y1 - thin > tall:
                found.append(f"{said!r} at {(x0, y0, x1, y1)} leaves {(wide, tall)}")
            boxes.append((x0, y0 + thin, x1, y1 - thin, said))
        found += overlaps(boxes)
    return found + overlaps(places)


def overlaps(boxes: list[tuple[float, float, float, float, str]]) -> list[str]:
    return [
        f"{a[4]!r} runs into {b[4]!r}"
        for a, b in itertools.combinations(boxes, 2)
        if min(a[2], b[2]) - max(a[0], b[0]) > 2 and min(a[3], b[3]) - max(a[1], b[1]) > 2
    ]


@pytest.mark.parametrize("name", ALL)
def test_every_stage_is_drawn_whole(bench: Desk, name: str) -> None:
    picture = ALL[name]
    resize(bench, 1024, 600)
    bench.show(picture)
    bench.grab(name if name != "ease" else "bench")
    texts = bench.texts()
    assert picture.say in texts
    if picture.stage != "ready":
        assert plain(picture.cue) in texts
    assert not [said for said in texts if "…" in said]
    assert faults(bench) == []


def test_a_picture_looks_the_same_whatever_was_shown_before(bench: Desk) -> None:
    resize(bench, 1024, 600)

    def drawings(pictures: list[Picture]) -> list[bytes]:
        drawn = []
        for picture in pictures:
            bench.show(picture)
            drawn.append(bench.grab().tobytes())
        return drawn

    pictures = [*ALL.values(), CROWDED]
    assert drawings(pictures) == drawings(pictures[::-1])[::-1]


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("stage", ["ready", "cup", "pour", "stir", "live", "ended"])
def test_long_words_are_neither_cut_off_nor_overlap(
    bench: Desk, stage: str, size: tuple[int, int]
) -> None:
    resize(bench, *size)
    bench.show(replace(CROWDED, stage=stage, outcome="scale-lost", verdict="out-of-band"))
    if stage == "pour":
        bench.grab(f"crowded-{size[0]}")
    assert faults(bench) == []


@pytest.mark.parametrize("cups", [0, 1, 2, 6])
def test_what_cures_stands_where_the_live_cups_leave_room(bench: Desk, cups: int) -> None:
    for size in SIZES:
        resize(bench, *size)
        bench.show(replace(READY, live_cups=CROWDED.live_cups[:cups], curing=CURES * 3))
        shown = [said for said in bench.texts() if said in CURES]
        assert faults(bench) == []
        assert bool(shown) == (cups < 3)


def test_a_computer_that_may_fall_asleep_is_told_beneath_the_live_cups(bench: Desk) -> None:
    for may_sleep in (True, False):
        bench.show(replace(READY, live_cups=CROWDED.live_cups[:1], may_sleep=may_sleep))
        assert (MAY_SLEEP in bench.texts()) is may_sleep
        assert faults(bench) == []


def test_six_live_cups_have_their_time_and_verdict_in_the_smallest_window(bench: Desk) -> None:
    resize(bench, *min(SIZES))
    cups = CROWDED.live_cups[:6]
    bench.show(replace(CROWDED, live_cups=cups))
    said = bench.texts()
    assert said.count("out of band") == 3
    assert said.count("unproven") == 3
    assert said.count("of 87–112 min") == 4
    assert {"≥67 min", "1:02:01", "time over", "may heat itself"} <= set(said)


def test_the_key_to_use_it_is_told_only_of_what_has_hardener_in_it(bench: Desk) -> None:
    for contact_age_s in (None, 61.0):
        bench.show(replace(ALL["over"], contact_age_s=contact_age_s))
        told = any("use it" in said for said in bench.texts())
        assert told == (contact_age_s is not None)


@pytest.mark.parametrize("health", ["fresh", "stale", "lost"])
def test_a_figure_without_a_reading_behind_it_says_so(bench: Desk, health: str) -> None:
    for picture in (EASE, PLACE):
        bench.show(replace(picture, scale=ScaleView(health, "64.7 g", "")))
        captions = [said for said in bench.texts() if said.endswith("(last reading)")]
        assert bool(captions) == (health != "fresh")


def test_a_settled_component_shows_its_target(bench: Desk) -> None:
    bench.show(EASE)
    assert {"43.2", "43.0", "settled"} <= set(bench.texts())


def test_all_live_cups_are_named_oldest_first(bench: Desk) -> None:
    resize(bench, 1024, 600)
    bench.show(CROWDED)
    said = " ".join(bench.texts())
    rest = re.search(r"and (\d+) more: ([\d, ]+)", said)
    assert rest
    hidden = [int(number) for number in rest[2].split(",")]
    assert hidden == list(range(13 - int(rest[1]), 13))
    assert [str(n) for n in range(1, hidden[0])] == [t for t in bench.texts() if t.isdigit()][
        -len(range(1, hidden[0])) :
    ]


def test_every_hold_has_its_own_words(bench: Desk) -> None:
    from mixer.pour.words import HELD

    seen = set()
    for reason in HELD:
        bench.show(replace(EASE, held=reason))
        assert "HELD" in bench.texts()
        seen.update(said for said in bench.texts() if "Space" in said and "on" in said)
        assert faults(bench) == []
    assert len(seen) == len(HELD)
    assert not any(re.search(r"\w-\w", said) for said in seen)  # words, no codes


def test_a_cup_off_the_scale_is_given_no_content(bench: Desk) -> None:
    resize(bench, 1024, 600)
    off = replace(
        EASE, held="lifted", cue="place", say=CUP_OFF, net_ug=None, total_ug=None,
        rows=(EASE.rows[0], replace(EASE.rows[1], net_ug=None)),
        scale=ScaleView("fresh", "0.0 g", ""),
    )  # fmt: skip
    bench.show(off)
    bench.grab("held-lifted")
    assert not [said for said in bench.texts() if re.search(r"in the cup .* of", said)]
    assert "on the scale" in bench.texts()


@pytest.mark.parametrize("box", ["F2", "F3"])
@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_box_hides_neither_the_figure_nor_the_cup(
    bench: Desk, box: str, size: tuple[int, int]
) -> None:
    resize(bench, *size)
    bench.show(EASE)
    bench.press(box)
    frame = bench.fields()[0].master.master
    while frame.master is not bench.window.root:
        frame = frame.master  # type: ignore[assignment]
    left, bottom = frame.winfo_rootx(), frame.winfo_rooty() + frame.winfo_height()
    assert left >= 0.65 * size[0]
    assert left + frame.winfo_width() <= size[0]
    assert bottom <= 0.951 * size[1]
    assert cut_off(bench) == []
    bench.grab(f"{box}-{size[0]}")
    bench.press("Escape")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_no_field_or_caption_of_the_form_is_cut_off(bench: Desk, size: tuple[int, int]) -> None:
    resize(bench, *size)
    bench.show(READY)
    for button in bench.widgets("Button"):
        if str(button["text"]).startswith("▸"):
            button.invoke()  # type: ignore[attr-defined]
    bench.window.root.update()
    bench.grab(f"form-{size[0]}")
    assert len(bench.fields()) > 10
    assert cut_off(bench) == []


def cut_off(bench: Desk) -> list[str]:
    """Labels, buttons and fields that have less room than they need."""
    floor = 0.951 * bench.window.root.winfo_height()
    return [
        str(one)
        for one in bench.widgets("Label", "Button", "Entry")
        if one.winfo_rooty() + one.winfo_height() > floor
        or one.winfo_height() < one.winfo_reqheight()
        or (one.winfo_class() != "Entry" and one.winfo_width() < one.winfo_reqwidth())
    ]


# -- any picture ----------------------------------------------------------------------

MASSES = st.integers(-20_000_000_000, 20_000_000_000)
WORDS = st.text(st.characters(exclude_categories=["Nd", "No", "Nl"]), max_size=60)
SECONDS = st.floats(0, 400_000)
RATIOS = st.one_of(st.none(), st.floats(0.01, 5000))
VERDICTS = st.sampled_from(["in-band", "out-of-band", "unproven"])
SCALES = st.builds(
    ScaleView, st.sampled_from(["fresh", "stale", "lost"]), st.sampled_from(["", "64.7 g"]), WORDS
)
ROWS = st.builds(
    Row, WORDS, st.sampled_from(["resin", "hardener"]), st.integers(1, 200),
    st.none() | MASSES, st.none() | MASSES, st.booleans(),
)  # fmt: skip
CUPS = st.builds(LiveCup, st.integers(1, 99), st.integers(1, 9999), WORDS, MASSES, SECONDS,
                 VERDICTS, WORDS)  # fmt: skip
PICTURES = st.builds(
    Picture,
    stage=st.sampled_from(["ready", "cup", "pour", "stir", "live", "ended"]),
    held=st.none() | WORDS,
    component=st.none() | WORDS,
    net_ug=st.none() | MASSES,
    total_ug=st.none() | MASSES,
    target_ug=st.none() | MASSES,
    low_ug=st.none() | MASSES,
    high_ug=st.none() | MASSES,
    cue=st.sampled_from(sorted(CUES)),
    say=WORDS,
    remaining_s=st.none() | SECONDS,
    contact_age_s=st.none() | SECONDS,
    batch=st.none() | st.integers(1, 99_999),
    cup=st.none() | st.integers(1, 99),
    ratio_target=RATIOS,
    ratio_actual=RATIOS,
    verdict=st.none() | VERDICTS,
    outcome=st.sampled_from([None, "live", "dropped", "interrupted", "scale-lost", "refused"]),
    resin_system=WORDS,
    resin_source=WORDS,
    size_ug=st.none() | MASSES,
    division_ug=st.sampled_from([None, 1_000_000, 500_000, 100_000, 10_000]),
    rows=st.lists(ROWS, max_size=7).map(tuple),
    scale=SCALES,
    live_cups=st.lists(CUPS, max_size=9, unique_by=lambda cup: cup.cup).map(tuple),
    simulated=st.booleans(),
)


def in_grams(mass_ug: int, division_ug: int | None) -> str:
    """Independent of the window's own arithmetic."""
    places = {1_000_000: "1", 10_000: "0.01"}.get(division_ug or 0, "0.1")
    return str(abs((Decimal(mass_ug) / 1_000_000).quantize(Decimal(places), ROUND_HALF_UP)))


def allowed(p: Picture) -> set[str]:
    """Every number that this picture can give rise to."""
    net, target, high = p.net_ug or 0, p.target_ug or 0, p.high_ug or 0
    masses = [
        net,
        p.total_ug,
        p.target_ug,
        p.low_ug,
        p.high_ug,
        p.size_ug,
        target - net,
        net - high,
    ]
    masses += [m for row in p.rows for m in (row.net_ug, row.target_ug)]
    masses += [cup.total_ug for cup in p.live_cups]
    said = {in_grams(m, p.division_ug) for m in masses if m is not None} | {"64.7", "100"}
    said |= {f"{row.parts:g}" for row in p.rows}
    said |= {str(n) for cup in p.live_cups for n in (cup.cup, len(p.live_cups))}
    said |= {str(n) for n in (p.batch, p.cup, *range(10)) if n is not None}  # "and 4 more"
    said |= {clock(s) for s in (p.contact_age_s, *(cup.age_s for cup in p.live_cups))}
    said |= {countdown(p.remaining_s)}
    for ratio in (p.ratio_target, p.ratio_actual):
        if ratio is not None:
            said.add(f"{ratio:.2f}".rstrip("0").rstrip("."))
    return said


@given(PICTURES)
@settings(max_examples=50, deadline=None, suppress_health_check=list(HealthCheck))
def test_any_picture_is_drawn_and_every_number_is_its_own(bench: Desk, picture: Picture) -> None:
    bench.shop.shown = picture
    bench.window.change(picture=picture)
    bench.window.root.update()
    texts = bench.texts()
    assert not [said for said in texts if "had trouble" in said]
    mine = allowed(picture)
    for said in texts:
        # A number that was cut short ends in "…" and can be read as no other.
        for number in re.findall(r"(?<![\w.])\d+(?:[.:]\d+)*(?![\d.:]*…)", said):
            assert number in mine, said
    followed = picture.held in (None, "by-hand")
    counting = picture.cue == "stir"  # what is left to stir, before a part is taken out
    if picture.stage == "pour" and counting:
        assert countdown(picture.remaining_s) in texts
    elif picture.stage == "pour" and picture.target_ug is not None and followed:
        left = picture.target_ug - (picture.net_ug or 0)
        over = picture.net_ug is not None and (
            picture.high_ug is not None and picture.net_ug > picture.high_ug
        )
        shown = (picture.net_ug or 0) - (picture.high_ug or 0) if over else left
        figure = in_grams(shown, picture.division_ug)
        assert any(said in (f"{figure} g", f"−{figure} g") or "…" in said for said in texts)


@given(st.tuples(*[st.none() | MASSES] * 5))
def test_the_marks_of_the_cup_are_in_order(masses: tuple[int | None, ...]) -> None:
    net, total, at, least, most = masses
    picture = Picture(
        stage="pour", net_ug=net, total_ug=total, target_ug=at, low_ug=least, high_ug=most
    )
    base, surface, low, target, high = heights(picture)
    assert 0 <= base <= surface <= BRIM
    assert target is None or base <= target <= BRIM
    if low is not None and high is not None and target is not None:
        assert low <= target <= high


@given(st.lists(st.integers(1, 2_000_000_000), min_size=3, max_size=3, unique=True), MASSES)
def test_the_surface_stands_in_the_band_just_when_the_weight_does(
    limits: list[int], net_ug: int
) -> None:
    low_ug, target_ug, high_ug = sorted(limits)
    picture = replace(EASE, net_ug=net_ug, low_ug=low_ug, target_ug=target_ug, high_ug=high_ug)
    _, surface, low, _, high = heights(picture)
    assert (low is not None) == has_band(picture)
    if low is not None and high is not None:
        assert (surface > high) == (net_ug > high_ug)
        assert surface >= low - 1e-9 if net_ug >= low_ug else surface <= low


def test_a_live_cup_out_of_band_cannot_be_missed(bench: Desk) -> None:
    resize(bench, 1024, 600)
    bench.show(replace(LIVE, verdict="out-of-band", ratio_actual=41.3, live_cups=(FIRST,)))
    assert bench.texts().count("out of band") == 2


def test_every_cue_has_a_shape_of_its_own() -> None:
    assert set(look.CUE_SHAPES) == CUES
    assert len(set(look.CUE_SHAPES.values())) == len(CUES)
