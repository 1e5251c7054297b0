"""The clocks of the live cups in the window: drawn, heard, and corrected by keys."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.benches import EASE, FIRST, LIVE, PLACE, READY, SECOND, stands
from support.desk import Opener

from mixer.app.life.cup_life import standing
from mixer.app.picture import Picture, Standing


def test_the_age_stands_beside_the_range_of_the_working_time(opened: Opener) -> None:
    bench, _ = opened(LIVE)
    texts = bench.texts()
    assert {"7:12", "of 20–28 min", "2:25", "of 21–29 min"} <= set(texts)


@pytest.mark.parametrize(
    ("age_s", "told", "said"),
    [
        (620, {}, "half over"),
        (1000, {}, "four fifths over: begin nothing new with it"),
        (1240, {}, "time over: what has thickened wets out no more"),
        (620, {"warm_s": 600}, "may heat itself: spread it, use it, or set it outside on what "
         "does not burn"),
        (1240, {"warm_s": 600, "hot_s": 1100}, "may be hot: if so, do not lift it or breathe it; "
         "ventilate, keep clear"),
    ],
)  # fmt: skip
def test_what_a_cup_has_come_to_stands_with_it(
    opened: Opener, age_s: float, told: dict[str, float], said: str
) -> None:
    bench, _ = opened(replace(EASE, live_cups=(stands(FIRST, age_s, **told),)))
    assert said in [" ".join(text.split()) for text in bench.texts()]


def test_a_cup_that_thickens_counts_on_no_time_any_more(opened: Opener) -> None:
    told = {name: getattr(FIRST.stands, name) for name in ("low_s", "working_s", "high_s")}
    cup = replace(FIRST, age_s=800, stands=standing("cup 1", 800, told, 690))
    bench, _ = opened(replace(EASE, live_cups=(cup,)))
    texts = [" ".join(text.split()) for text in bench.texts()]
    assert {"of 11 min", "thickening: since 11 min, as you said"} <= set(texts)
    (canvas,) = [c for c in bench.canvases() if c.find_withtag("range0")]
    way, range_, there = (canvas.coords(name) for name in ("way0", "range0", "there0"))
    assert range_[2] == way[2]  # from the word on
    assert 0 < there[2] - range_[0] < 0.1 * (way[2] - way[0])


def test_a_warning_without_a_figure_stands_there_as_one_by_the_plain_rule(opened: Opener) -> None:
    cup = replace(FIRST, stands=Standing())
    bench, _ = opened(replace(EASE, live_cups=(stands(cup, 620, rule_low_s=900.0),)))
    assert {"half over", "plain rule"} <= set(bench.texts())


def test_how_long_a_batch_should_last_stands_there_before_it_is_poured(opened: Opener) -> None:
    bench, _ = opened(PLACE)
    assert PLACE.lasts in bench.texts()


def test_a_cue_of_a_cup_is_heard_once(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    bench, _ = opened()
    rung: list[bool] = []
    monkeypatch.setattr(bench.window.root, "bell", lambda: rung.append(True))
    for rings, heard in ((0, 0), (1, 1), (1, 1), (2, 2)):
        bench.show(replace(EASE, cup_rings=rings, t_s=rings))
        assert len(rung) == heard


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (["F7", *"24f", "Return"], ["air 24f"]),
        (["F7", *"24", "F7"], []),
        (["F7", "Return"], []),
        (["F7", *"24", "Escape"], []),
        (["F6", "F6"], ["thick 1"]),
        (["F6", "Return"], ["thick 1"]),
        (["F6", "Down", "F6"], ["thick 2"]),
        (["F6", "Escape"], []),
    ],
    ids=lambda value: " ".join(map(str, value)),
)
def test_air_and_thickening_are_said_by_keys_alone(
    opened: Opener, keys: list[str], words: list[str]
) -> None:
    bench, shop = opened(replace(EASE, live_cups=(SECOND, FIRST)))
    bench.press(*keys)
    assert shop.words == words


@pytest.mark.parametrize("picture", [LIVE, READY], ids=["live", "ready"])
def test_they_are_said_when_no_batch_is_on_too(opened: Opener, picture: Picture) -> None:
    bench, shop = opened(replace(picture, live_cups=(SECOND, FIRST)))
    bench.press("F7", *"7f", "Return", "F6", "F6")
    assert shop.words == ["air 7f", "thick 1"]
    assert shop.started == []


def test_where_no_cup_is_live_there_is_nothing_to_ask(opened: Opener) -> None:
    bench, shop = opened(replace(READY, live_cups=()))
    bench.press("F6", "F6", "F7", "Return")
    assert shop.words == []
