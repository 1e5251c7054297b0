"""One batch by the dry cloth that lies ready: within every cap, of whole kits where it can be."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mixer.app.bench.kit_size import Asked, size_of
from mixer.app.sentence import NotDone
from mixer.plan.tags import Kit

FIRST, SECOND = Kit("rib 3", (1, 2), 0.5, 200.0), Kit("rib 3", (3,), 0.25, 200.0)
APPLY = 1 / 0.96  # of the cloth's own weight, a 25th of it lost in the cup (squeegee.toml)


def asked_of(*kits: Kit, cup: str | None = None, most_ug: int | None = None) -> Asked:
    none = Path("no-such-record")
    return Asked(kits, None, "sample-36", cup, "sma", "22 degC", none, most_ug)


@settings(max_examples=8, deadline=None)
@given(st.lists(st.floats(0.01, 0.6), min_size=1, max_size=6))
def test_a_batch_never_breaks_a_cap_and_is_of_whole_kits(areas_m2: list[float]) -> None:
    kits = [Kit("rib", (number,), area, 300.0) for number, area in enumerate(areas_m2, 1)]
    found = size_of(asked_of(*kits, cup="paper-150"))
    need_ug = sum(kit.cloth_g for kit, *_ in found.kits if kit is not None) * APPLY * 1e6
    assert found.size_ug <= 100_000_000  # what that cup holds with room to stir
    assert found.size_ug <= max(1e6, need_ug + 1)
    taken = [kit for kit, *_ in found.kits]
    assert taken == kits[: len(taken)]  # in the order in which they were scanned
    if "a part of" not in found.say:
        assert found.size_ug >= need_ug - 100_001


def test_a_kit_that_is_more_than_a_batch_is_wetted_in_parts() -> None:
    small, large = Kit("rib", (1,), 0.125, 300.0), Kit("rib", (2,), 0.375, 300.0)
    found = size_of(asked_of(small, large, cup="paper-150"))
    # 156.3 g in two even cups of what this one holds, 100 g; the first has all of ply 1.
    assert found.say == (
        "go takes 78.1 g for rib ply 1 and a part of rib ply 2, by cup. 150 g of dry cloth: apply "
        "about 156 g (131 to 205 g), of which about 100 g should stay. What it leaves of rib ply "
        "2 takes 78.1 g more."
    )
    # 39.1 g of it are for ply 1, as many for a third of the 117.2 g that ply 2 takes.
    assert [(kit["plies"], kit["part"]) for kit in found.kept()] == [("1", 1.0), ("2", 0.3333)]
    untagged = size_of(replace(asked_of(cup="paper-150"), cloth_ug=150_000_000))
    assert [kit["part"] for kit in untagged.kept()] == [0.5]


def test_a_kit_may_weigh_what_its_own_roll_may() -> None:
    # 8 % of the roll, and 2 % of cut edges: 0.92 * 0.98 = 0.9016 of 100 g.
    loose = Kit("rib 3", (1,), 0.5, 200.0, "", 0.08)
    light = replace(asked_of(loose), cloth_ug=90_200_000)
    assert size_of(light).size_ug == pytest.approx(90.2e6 * APPLY, abs=100_000)
    with pytest.raises(NotDone, match=r"can weigh, from 90\.2 g on"):
        size_of(replace(light, cloth_ug=90_100_000))
    with pytest.raises(NotDone, match=r"can weigh, from 93\.1 g on"):
        size_of(replace(light, kits=(replace(loose, spread=0.05),)))


def test_the_method_on_the_tag_counts_and_two_of_them_are_none() -> None:
    brushed = Kit("rib 3", (4,), 0.1, 300.0, "brush")
    by_brush = size_of(asked_of(brushed)).size_ug
    by_squeegee = size_of(asked_of(Kit("rib 3", (4,), 0.1, 300.0))).size_ug
    assert by_brush > by_squeegee  # more is applied by brush (squeegee.toml, brush.toml)
    assert size_of(asked_of(brushed)).kept()[0]["method"] == "brush"  # so that it learns its pace
    assert size_of(asked_of(FIRST)).kept()[0]["method"] == "squeegee"
    with pytest.raises(NotDone, match="by squeegee and by brush"):
        size_of(asked_of(FIRST, brushed))


def test_a_cup_may_serve_kits_of_two_layups() -> None:
    found = size_of(asked_of(Kit("rib 3", (1,), 0.1, 200.0), Kit("rib 4", (1,), 0.1, 200.0)))
    assert (found.layup, found.plies) == ("rib 3; rib 4", None)
    assert [kit["layup"] for kit in found.kept()] == ["rib 3", "rib 4"]


def test_what_the_scale_itself_carries_is_a_cap() -> None:
    found = size_of(asked_of(FIRST, SECOND, most_ug=80_000_000))
    assert found.size_ug <= 80_000_000
    assert ", by scale." in found.say


def test_what_is_left_of_a_lot_is_a_cap_of_the_batch_made_of_it() -> None:
    left = "resin=110g; hardener=21.6 g"  # of 36 parts for 100: enough for 81.6 g of the mix
    small, large = Kit("rib", (1,), 0.25, 200.0), Kit("rib", (2,), 0.5, 200.0)
    found = size_of(replace(asked_of(small, large), left=left))
    assert [kit.plies for kit, *_ in found.kits if kit is not None] == [(1,)]
    assert found.size_ug == 52_000_000  # 50 g / 0.96, to a tenth and not above
    assert "go takes 52.0 g for rib ply 1, by what is left of the hardener." in found.say
    assert "From batch 2 on what is left of the hardener is not enough" in found.say
    whole = size_of(replace(asked_of(small), left=left))
    assert "left of" not in whole.say
    fresh = size_of(replace(asked_of(large), left="hardener=5g"))
    assert fresh.size_ug == 18_800_000  # 5 g of hardener are enough for 18.9 g
    assert "go takes 18.8 g for a part of rib ply 2, by what is left of the hardener." in fresh.say
    assert "What it leaves of rib ply 2 takes 85.3 g more." in fresh.say
    # 104.2 g take 27.6 g of it: 22.6 are missing.
    assert "is not enough: 23 g of it are missing. Of another lot, which takes 23 g" in fresh.say
    with pytest.raises(NotDone, match=r"left of the hardener makes less than 5 g"):
        size_of(replace(asked_of(large), left="hardener=1.3g"))
    strip = Kit("rib", (3,), 0.01, 300.0)  # 3.1 g of mix, which the next would be a batch after
    with pytest.raises(NotDone, match=r"left of the resin makes less than 5 g of what is wetted"):
        size_of(replace(asked_of(strip, large), left="resin=10g"))
    assert "left of" not in size_of(replace(asked_of(strip), left="resin=10g")).say


def test_a_lot_of_little_more_than_a_batch_is_no_reason_for_a_smaller_one() -> None:
    kit = Kit("rib", (1,), 1.6, 299.0)  # 498.3 g of mix, in cups of 98.9 g
    found = size_of(replace(asked_of(kit, cup="paper-150"), left="resin=74g"))  # for 100.6 g
    assert found.size_ug == 98_900_000
    assert "go takes 98.9 g for a part of rib ply 1, by cup." in found.say


def test_a_batch_that_is_cut_for_a_lot_leaves_no_crumb() -> None:
    kit = Kit("rib", (1,), 0.25, 320.0)  # 83.3 g of mix, of which 50 g of resin are 68
    found = size_of(replace(asked_of(kit), left="resin=50g", scale="no-cable"))
    assert found.size_ug == 41_600_000
    # 61.3 g of resin are wanted.
    assert "From batch 2 on what is left of the resin is not enough: 11 g" in found.say
    assert "which takes 31 g of it" in found.say


def test_no_kit_is_cut_for_the_crumb_of_another() -> None:
    # 98.8 and 2.2 g of mix, of which a batch may be 98.9: who then scans ply 2 would get 2.2 g.
    ply, strip = Kit("rib", (1,), 0.316, 300.0), Kit("rib", (2,), 0.007, 300.0)
    cold = replace(asked_of(ply, strip, cup="paper-150"), air="12 degC", scale="no-cable")
    found = size_of(cold)
    assert found.say.startswith("go takes 98.7 g for rib ply 1, by cup.")
    assert "Scan rib ply 2 for the next." in found.say
    assert "Batch 2: too small for this scale" in found.say
    # What is cut for a lot is followed by one batch for its rest and the strip.
    short = size_of(replace(cold, left="resin=60g"))
    assert short.say.startswith("go takes 50.4 g for a part of rib ply 1,")
    assert (
        "The next, 50.4 g, is for what it leaves of rib ply 1 and for rib ply 2: give 50.4g in "
        "place of kit as its size." in short.say
    )
    assert "Scan" not in short.say
    third = size_of(replace(cold, kits=(ply, strip, replace(ply, plies=(3,))), left="resin=60g"))
    assert "as its size. Scan rib ply 3 for the one after." in third.say
    # Of 260.4 and 10.4 g the rest takes two more: no size is told.
    long = size_of(replace(cold, kits=(replace(ply, area_m2=0.8333), strip)))
    assert "Scan rib ply 2 for the next. What it leaves of rib ply 1 takes 1" in long.say


@settings(max_examples=8, deadline=None)
@given(st.lists(st.floats(0.01, 0.6), min_size=1, max_size=4), st.floats(4, 400))
@example([0.01, 0.6], 10)
def test_no_batch_of_what_is_left_is_more_than_it(areas_m2: list[float], left_g: float) -> None:
    kits = [Kit("rib", (number,), area, 300.0) for number, area in enumerate(areas_m2, 1)]
    asked = replace(asked_of(*kits, cup="paper-150"), left=f"resin={left_g:.1f}g")
    if kits[0].cloth_g * APPLY < 5.1 or left_g * 1.36 < 5.1:
        with suppress(NotDone):  # makes but a crumb
            assert size_of(asked).size_ug / 1e6 / 1.36 <= left_g + 0.06
        return
    found = size_of(asked)
    assert found.size_ug / 1e6 / 1.36 <= left_g + 0.06
    assert "From batch 1 on" not in found.say


def test_where_nothing_can_be_used_up_in_time_it_is_said() -> None:
    hot = Asked((FIRST,), None, "sample-36", None, "sma", "39 degC", Path("none"))
    with pytest.raises(NotDone, match="cannot be mixed twice"):
        size_of(hot)


def profile(folder: Path, *changes: tuple[str, str]) -> str:
    text = (Path(__file__).parents[2] / "profiles/resins/sample-36.toml").read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / "mine.toml"
    path.write_text(text, "utf-8")
    return str(path)


def test_where_no_time_can_be_told_that_is_said_before_go(tmp_path: Path) -> None:
    kit = Kit("rib 3", (1, 2, 3), 1.0, 300.0)
    by = {"cup": None, "scale": "sma", "record": Path("none"), "cloth_ug": None}
    cold = size_of(Asked(kits=(kit,), resin="sample-36", air="8 degC", **by))  # type: ignore[arg-type]
    assert cold.size_ug <= 100_000_000
    assert "by usual cup" in cold.say
    assert "No working time: the model was checked for 10 to 40 degC" in cold.say
    hot = Asked(kits=(kit,), resin="sample-28", air="41 degC", **by)  # type: ignore[arg-type]
    near = replace(hot, air="40 degC")
    assert size_of(hot).size_ug <= size_of(near).size_ug
    assert "divided by 2.2 for each 10 degC more (its label)" in size_of(hot).say

    own = (tmp_path / "a", tmp_path / "b")
    for folder in own:
        folder.mkdir()
    text = (Path(__file__).parents[2] / "profiles/resins/sample-36.toml").read_text("utf-8")
    table = text[text.index("[pot_life]") : text.index("[cure]")]
    none = profile(own[0], (table, ""))
    found = size_of(Asked(kits=(kit,), resin=none, air="25 degC", **by))  # type: ignore[arg-type]
    assert "by usual cup" in found.say
    assert "has no pot life in its profile" in found.say
    fast = profile(own[1], ('time = "25 min"', 'time = "6 min"'))
    with pytest.raises(NotDone, match=r"for 8 to 240 min on the label.* No batches: .* of 6 min"):
        size_of(Asked(kits=(kit,), resin=fast, air="25 degC", **by))  # type: ignore[arg-type]


def test_a_label_that_contradicts_itself_is_sized_and_says_so(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "profiles/resins/sample-28.toml").read_text("utf-8")
    at, end = text.index("[pot_life]"), text.index("[cure]")
    points = [("20", "60"), ("10", "108")]
    tables = [
        f'{name}\nmass = "50 g"\ntemperature = "{c} degC"\ntime = "{minutes} min"\n'
        for name, (c, minutes) in zip(["[pot_life]", "[pot_life.second]"], points, strict=True)
    ]
    path = tmp_path / "flat.toml"
    path.write_text(text[:at] + f'{tables[0]}ends = "gel"\n{tables[1]}' + text[end:], "utf-8")
    cloth = {"kits": (), "cloth_ug": 150_000_000, "cup": None, "scale": "sma"}
    found = size_of(Asked(resin=str(path), air="20 degC", record=Path("none"), **cloth))  # type: ignore[arg-type]
    assert "the two label points contradict each other (60 min for 50 g at 20 degC" in found.say
    assert 5_000_000 <= found.size_ug <= 50_000_000
    assert "150 g of dry cloth: apply about 156 g" in found.say
    cold = size_of(Asked(resin=str(path), air="8 degC", record=Path("none"), **cloth))  # type: ignore[arg-type]
    assert "contradict each other" in cold.say
    assert "; the model was checked for 10 to 40 degC;" in cold.say


def test_cloth_that_is_far_too_heavy_for_its_kits_is_refused() -> None:
    # 100 and 50 g by their outlines; 5 % of the roll above that are 157.5 g, of which twice 315.
    kits = replace(asked_of(FIRST, SECOND), cloth_ug=315_000_000)
    assert "is there something else in it?" in size_of(kits).say
    with pytest.raises(NotDone, match=r"316 g is more than these kits can weigh, up to 315 g, 2"):
        size_of(replace(kits, cloth_ug=316_000_000))
    heap = replace(asked_of(), cloth_ug=5_000_000_000)  # of no kit that is known
    assert size_of(heap).size_ug > 0
