"""The window worked by real X key events and nothing else."""

from __future__ import annotations

from dataclasses import replace

import pytest
from support.benches import EASE, FIRST, HELD, LIVE, READY, SECOND, SHARE, STIR
from support.desk import Desk, FakeShop, Opener, desk

from mixer.app.bench.visitor import Visitor
from mixer.app.picture import Picture
from mixer.app.request import Choices, Request
from mixer.desk import hands_on
from mixer.plan.tags import Numbered, payload


def press_or_scan(bench: Desk, keys: list[str]) -> None:
    """What ends with Enter is scanned."""
    for key in keys:
        if key.endswith("\n"):
            bench.type(key)
        else:
            bench.press(key)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        (["space"], ["go"]),
        (["space", "space"], ["go"]),  # a pedal's double press
        (["Escape"], ["hold"]),
        (["Delete"], []),
        (["Delete", "Delete"], []),  # a double press is one step
        (["Delete", "Return"], ["drop"]),
        (["Delete", "x", "Return"], []),
        (["Delete", "space", "Return"], ["go"]),
        (["Return"], []),
        (["go\n"], ["go"]),
        (["hold\n"], ["hold"]),
        (["F4"], ["use"]),
        (["F4", "F4"], ["use"]),
        (["use\n"], ["use"]),
        (["F5", "F5"], ["part"]),
        (["part\n"], ["part"]),
        (["F8", "F8"], ["split"]),
        (["F9"], ["moved"]),
        (["drop\n"], []),
        (["drop\n", "Return"], ["drop"]),
        ([*"lot", "space", *"17", "Return"], []),  # the label of a jug is no command
    ],
    ids=" ".join,
)  # fmt: skip
def test_keys_and_cards_at_a_pour(opened: Opener, keys: list[str], words: list[str]) -> None:
    bench, shop = opened()
    press_or_scan(bench, keys)
    assert shop.words == words


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ([*"wet", "Return"], ["filler wet"]),
        ([*"3wet", "Return"], ["filler 3wet"]),
        (["split\n"], ["split"]),
        (["F8", "space"], ["split", "go"]),
        (["Escape"], ["hold"]),  # which is answered with what there is to say
    ],
    ids=" ".join,
)
def test_keys_and_cards_while_it_is_split(
    opened: Opener, keys: list[str], words: list[str]
) -> None:
    bench, shop = opened(SHARE)
    press_or_scan(bench, keys)
    assert shop.words == words


@pytest.mark.parametrize("picture", [SHARE, STIR])
def test_a_tag_is_neither_a_fillers_name_nor_a_components(opened: Opener, picture: Picture) -> None:
    ours = payload(Numbered(7))
    bench, shop = opened(replace(picture, tags=("resin", "flox")))
    for text in ("resin", "flox", ours):
        bench.press(*text, "Return")
    assert shop.words == ["jug resin", "jug flox", f"jug {ours}"]


@pytest.mark.parametrize(("picture", "word"), [(STIR, "weigh resin"), (EASE, "")])
def test_a_jug_is_weighed_by_its_name(opened: Opener, picture: Picture, word: str) -> None:
    bench, shop = opened(picture)
    bench.press(*"resin", "Return")
    assert shop.words == ([word] if word else [])


def test_what_was_poured_is_said_with_its_word(opened: Opener) -> None:
    bench, shop = opened(EASE)
    bench.press(*"was", "space", *"resin", "Return")
    assert shop.words == ["was resin"]


def test_a_live_cup_is_split_with_no_scale(opened: Opener) -> None:
    bench, shop = opened(LIVE)
    bench.press("F2", "Tab", "Up", "Up", "Tab", *"12 g", "Return")
    assert shop.closed == [(1, "share", "12 g")]


def test_the_question_whether_to_drop_is_asked_and_taken_back(opened: Opener) -> None:
    bench, shop = opened()
    bench.press("Delete")
    assert "DROP?" in bench.texts()
    bench.press("F3", "Escape")
    assert "DROP?" not in bench.texts()
    assert shop.words == []


def test_escape_never_goes_on_from_a_hold(opened: Opener) -> None:
    bench, shop = opened(HELD)
    bench.press("Escape")
    assert shop.words == []
    bench.press("space")
    assert shop.words == ["go"]


def test_typing_a_note_does_not_act_on_the_pour(opened: Opener) -> None:
    bench, shop = opened()
    bench.press("F3")
    bench.type("no go on hold 2.5 g")
    bench.press("Delete", "Delete", "Return")
    assert (shop.words, shop.notes) == ([], ["no go on hold 2.5 g"])
    bench.press("F3")
    bench.type("never mind")
    bench.press("Escape")  # leaves the note,
    assert (shop.words, len(shop.notes)) == ([], 1)
    bench.press("Escape")  # and only then holds the pour
    assert shop.words == ["hold"]


@pytest.mark.parametrize("card", ["go", "hold"])
def test_a_card_scanned_into_a_note_still_counts(opened: Opener, card: str) -> None:
    bench, shop = opened()
    bench.press("F3")
    bench.type(card + "\n")
    assert (shop.words, shop.notes) == ([card], [])
    bench.type("two drops spilled\n")
    assert (shop.words, shop.notes) == ([card], ["two drops spilled"])


def test_a_drop_card_scanned_into_a_note_asks_and_typing_on_keeps_the_batch(
    opened: Opener,
) -> None:
    bench, shop = opened()
    bench.press("F3")
    bench.type("drop\n")
    assert "DROP?" in bench.texts()
    bench.type("drips\n")
    assert (shop.words, shop.notes) == ([], ["drips"])
    bench.press("F3")
    bench.type("drop\ndrop\n")
    assert shop.words in ([], ["drop"])  # the second scan may be one that was read twice
    assert shop.notes == ["drips"]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ("r 17-a\n", ["jug r 17-a"]),
        ("4006381333931\n", ["jug 4006381333931"]),
        ("lot 17\n", ["jug lot 17"]),  # none of its tags: that is said too
        ("go\n", ["go"]),
    ],
)
def test_a_scanned_jug_is_looked_at_where_the_resin_has_tags(
    opened: Opener, keys: str, words: list[str]
) -> None:
    bench, shop = opened(replace(EASE, tags=("r 17-a", "4006381333931")))
    bench.type(keys)
    assert shop.words == words


def test_a_jug_scanned_into_a_field_still_counts_but_for_a_figure(opened: Opener) -> None:
    bench, shop = opened(replace(EASE, tags=("r 17-a", "17")))
    bench.press("F3")
    bench.type("r 17-a\n")
    assert (shop.words, shop.notes) == (["jug r 17-a"], [])
    bench.type("17\n")
    assert (shop.words, shop.notes) == (["jug r 17-a"], ["17"])


def test_what_is_to_be_heard_rings_once(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    bench, _ = opened()
    rung: list[bool] = []
    monkeypatch.setattr(bench.window.root, "bell", lambda: rung.append(True))
    for rings, heard in ((0, 0), (1, 1), (1, 1), (2, 2), (0, 2)):
        bench.show(replace(EASE, rings=rings, t_s=rings))
        assert len(rung) == heard


@pytest.mark.parametrize(
    ("keys", "closed"),
    [
        (["F2", "Return"], (1, "used-up", None)),
        (["F2", "Tab", "Down", "Return"], (1, "discard", None)),
        (["F2", "Tab", "Up", "Tab", "9", "space", "g", "Return"], (1, "left", "9 g")),
        (["F2", "Tab", "Tab", *"9g", "Return"], (1, "left", "9g")),
        (["F2", "Down", "Return"], (2, "used-up", None)),
    ],
    ids=lambda value: " ".join(map(str, value)),
)
@pytest.mark.parametrize("stage", ["live", "pour", "ready"])
def test_a_live_cup_is_closed_by_keys_alone(
    opened: Opener, keys: list[str], closed: tuple[int, str, str | None], stage: str
) -> None:
    picture = {"live": LIVE, "pour": EASE, "ready": READY}[stage]
    bench, shop = opened(replace(picture, live_cups=(SECOND, FIRST)))
    bench.press(*keys)
    assert shop.closed == [closed]
    assert shop.words == []
    assert shop.started == []


@pytest.mark.parametrize("keys", [["F2", "F2"], ["F2", "Escape"], ["F2", *"r-17", "Return"]])
def test_a_cup_stays_live_when_the_question_is_left_or_a_label_is_scanned(
    opened: Opener, keys: list[str]
) -> None:
    bench, shop = opened(LIVE)
    bench.press(*keys)
    assert shop.closed == []


def test_a_pedal_and_cards_count_while_a_cup_is_chosen(opened: Opener) -> None:
    bench, shop = opened()
    bench.press("F2", "space")
    bench.type("hold\n")
    assert (shop.words, shop.closed) == (["go", "hold"], [])


def test_keys_alone_start_a_batch_from_the_ready_window(opened: Opener) -> None:
    bench, shop = opened(READY)
    shop.offers = Choices(("sample-28", "sample-36"), ("paper-150",), ("sma",), ("/dev/p1", "sim:"))
    bench.press("Down", "Down", "Tab")  # the first empty field, the resin, has the keyboard
    bench.type("60 g")
    bench.press("Tab", "Down", "Return")
    assert shop.started == [Request("sample-36", "60 g", "/dev/p1")]
    assert shop.words == []


def test_no_resin_is_mixed_that_nobody_chose(opened: Opener) -> None:
    bench, shop = opened(READY)
    bench.press("Tab")
    bench.type("60 g\n")
    assert [asked.resin for asked in shop.started] == [""]  # refused, with a sentence


def test_the_further_fields_are_reached_by_keys(opened: Opener) -> None:
    bench, shop = opened(READY)
    bench.press("Down", "Tab")
    bench.type("60 g")
    bench.press("Tab", "Tab", "Down", "Tab", "Tab", "space")  # the cup; the button
    bench.until(lambda: len(bench.fields()) > 5)
    bench.press("Tab")
    bench.type("21 c")
    bench.press("Tab")
    bench.type("22 c\n")
    (asked,) = shop.started
    assert asked == Request(
        "sample-28", "60 g", "sim:", cup="paper-150", resin_temp="21 c", air="22 c"
    )


@pytest.mark.parametrize("filled", [True, False], ids=["typed", "by the command"])
def test_what_is_left_of_the_lots_counts_for_one_batch(screen: str, filled: bool) -> None:
    asked = Request("sample-28", "kit", "sim:", operator="AB", left="resin=90g")
    shop = FakeShop(READY if filled else EASE)
    with desk(screen, shop, None if filled else asked) as bench:
        if filled:
            bench.window._layout.form.fill(asked)
            bench.press("Return")
        assert shop.started == [asked]
        if filled:
            bench.show(replace(READY, say="No such port."))
            assert bench.window._layout.form.fields["left"].text == "resin=90g"
            bench.show(EASE)
        bench.show(LIVE)
        bench.press("space", "Return")
        assert shop.started[1:] == [replace(asked, left=None)]


def test_after_a_batch_keys_alone_lead_to_the_next(opened: Opener) -> None:
    bench, shop = opened(LIVE)
    bench.press("space")
    assert "Next batch" in bench.texts()
    bench.press("Escape")
    assert "Next batch" not in bench.texts()
    bench.press("Return", "Down", "Tab")
    bench.type("80 g\n")
    assert [asked.size for asked in shop.started] == ["80 g"]


def test_a_key_held_when_the_keyboard_goes_elsewhere_is_let_go(opened: Opener) -> None:
    told: list[bool] = []
    bench, _ = opened(extra_keys={"Down": told.append}, extra_help=hands_on.HELP)
    assert any(hands_on.HELP in said for said in bench.texts())
    bench.down("Down")
    bench.until(lambda: told == [True])
    bench.take_keyboard_away()
    bench.until(lambda: told == [True, False])
    bench.up("Down")


def test_the_keys_of_the_visitors_hands_belong_to_a_field_while_it_has_the_keyboard(
    opened: Opener,
) -> None:
    visitor = Visitor()
    bench, shop = opened(extra_keys=hands_on.keys(visitor))
    visitor.see(EASE)
    bench.press("F3", "a", "Left", "b", "Right", "c", "Up", "Down", "Return")
    assert shop.notes == ["bac"]
    visitor.leave()
    assert list(visitor.doings()) == []


def test_a_batch_that_is_refused_shows_why_and_what_was_asked(screen: str) -> None:
    shop = FakeShop(Picture())
    asked = Request("sample-36", "100 kg", "sim:", operator="AB", hands_free=True)
    with desk(screen, shop, asked) as bench:
        assert "wait" in bench.texts()  # nothing to choose until the answer is there
        bench.show(Picture(serial=1, say="The size is above what this scale carries."))
        assert "wait" in bench.texts()
        refused = Picture(serial=2, say="The size is too much.", outcome="refused")
        bench.show(refused)
        assert "The size is too much." in bench.texts()
        bench.press("Tab", "Return")
        assert shop.started == [asked, asked]


def test_a_refusal_that_was_there_first_is_shown(screen: str) -> None:
    shop = FakeShop(Picture(say="The record cannot be opened.", outcome="refused"))
    with desk(screen, shop, Request("sample-36", "60 g", "sim:")) as bench:
        assert "The record cannot be opened." in bench.texts()
