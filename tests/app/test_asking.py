"""What is asked of the seer is asked again, and without an answer a cup is warned of."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import START
from support.live_cups import At, Still, cup
from support.minds import AtOnce, Nobody

from mixer.app.files.confirm import confirm, default_store
from mixer.app.files.profiles import load_resin
from mixer.app.life.asking import AGAIN_S, LATE_S, Asking
from mixer.app.life.clocks import LAST_OF_UNTOLD_S, LAST_S, Clocks
from mixer.app.life.cup_life import AWAITED, WRONG
from mixer.app.life.told_of_cups import thick
from mixer.app.request import Request
from mixer.record.journal import Journal
from mixer.science.plain_rule import BEFORE_GEL

SEER = "mixer.app.life.clocks.Seer"
LABEL_S = 25 * 60  # for 100 g at 25 degC, and the cup is a little colder
LEAST_S = LABEL_S / 1.15 * BEFORE_GEL


class Fails(AtOnce):
    """Gives no answer to the first so many questions."""

    failures = math.inf

    def __init__(self, deliver: Callable[[object], None]) -> None:
        super().__init__(deliver)
        self.asked = 0

    def ask(self, key: Any, think: Callable[[], Any]) -> None:
        self.asked += 1

        def dies() -> None:
            raise EOFError

        super().ask(key, dies if self.asked <= self.failures else think)


class FailsOnce(Fails):
    failures = 1


@given(st.integers(0, 10))
def test_what_fails_is_asked_again_at_growing_intervals_and_not_for_ever(failures: int) -> None:
    now_s = [0.0]
    seer = FailsOnce(lambda thought: None)
    seer.failures = failures
    asking = Asking(seer, lambda: now_s[0])
    key = ("sum", 1, "question")
    asking.ask(key, lambda: 4)
    told, gaps = [], []
    for second in range(3600):
        now_s[0] = float(second)
        before = seer.asked
        told += asking.take()
        gaps += [second] if seer.asked > before else []
    tries = min(failures, len(AGAIN_S)) + 1
    assert seer.asked == tries
    later = [after - before for before, after in zip([0, *gaps], gaps, strict=False)]
    assert later == sorted(later)
    assert [type(found) for _, found in told].count(EOFError) == min(failures, tries)
    assert (told[-1] == (key, 4)) is (failures <= len(AGAIN_S))
    assert asking.has(key) is (failures > len(AGAIN_S))


def test_what_never_comes_is_told_of_once_and_an_answer_still_counts() -> None:
    now_s = [0.0]
    seer = Nobody(lambda thought: None)
    asking = Asking(seer, lambda: now_s[0])
    key = ("sum", 1, "question")
    asking.ask(key, lambda: 4)
    assert asking.take() == []
    now_s[0] = LATE_S
    ((late, error),) = asking.take()
    assert (late, type(error), asking.take()) == (key, TimeoutError, [])
    seer._told.append((key, 4))
    assert asking.take() == [(key, 4)]
    assert not asking.has(key)


def test_one_death_of_the_other_process_ends_no_clock(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SEER, FailsOnce)
    at = At(record)
    assert at.cup(1).stands.low_s is None
    at.clock.skip(AGAIN_S[0])
    at.tick()
    at.tick()
    assert len(at.facts("foretold")) == 1
    assert at.cup(1).stands.low_s == at.facts("foretold")[0].data["low_s"]
    assert "should last" in at.cup(1).stands.say
    at.bench.end("done")


@pytest.mark.parametrize(("seer", "why"), [(Fails, "the estimate failed"), (Nobody, AWAITED)])
def test_without_an_answer_a_cup_is_warned_of_by_the_plain_rule(
    record: Path, monkeypatch: pytest.MonkeyPatch, seer: type, why: str
) -> None:
    monkeypatch.setattr(SEER, seer)
    at = At(record)
    at.age(1, LATE_S + 35)
    shown = at.cup(1).stands
    assert (shown.low_s, shown.mark) == (None, "")
    assert f"No time can be told for cup 1: {why}" in shown.say
    at.age(1, LABEL_S)
    cues = at.cup(1).stands.cues
    assert [cue.mark for cue in cues] == ["half", "warm", "hot", "late", "over"]
    assert all("by the plain rule" in cue.say for cue in cues)
    assert at.board.newest.cup_rings > 0
    assert at.facts("foretold") == []
    at.bench.end("done")


def test_an_answer_is_late_by_the_machines_own_time_however_fast_its_clock(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SEER, Nobody)
    at = At(record)
    at.clock.speed = 4.0
    at.age(1, 3 * LATE_S)
    assert AWAITED not in at.cup(1).stands.say
    at.age(1, 4 * (LATE_S + 45))  # it was asked at 40 s
    assert AWAITED in at.cup(1).stands.say
    at.bench.end("done")


def test_what_was_foretold_of_a_colder_room_warns_no_later_for_want_of_an_answer(
    record: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SEER, AtOnce)
    at = At(record)
    at.tick()
    low_s = at.facts("foretold")[0].data["low_s"]
    at.bench.end("done")
    monkeypatch.setattr(SEER, Fails)
    at.start()
    assert at.cup(1).stands.low_s == low_s  # nothing has to be asked
    at.say("air", "23 degC")
    at.tick()
    assert at.cup(1).stands.low_s is None
    at.age(1, min(low_s, LEAST_S * 1.2))
    assert "over" in [cue.mark for cue in at.cup(1).stands.cues]
    at.bench.end("done")


def test_a_batch_with_hardener_in_it_is_warned_of_without_an_answer_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SEER, Fails)
    confirm(load_resin("sample-36"), "100:36", "weight", default_store(), START)
    at = At(tmp_path / "record.cupside")
    at.bench.handle(Request("sample-36", "60g", "typed:", air="24 degC", stir="60s"))
    for word, text in (("go", ""), ("shows", "44.1"), ("go", "")):
        at.say(word, text)
    assert at.board.newest.lasts.startswith("No time can be told for 60 g: the estimate failed")
    at.clock.skip(LEAST_S * 0.9)
    at.tick()
    assert at.board.newest.cup_rings == 1
    assert "this cup may be hot (by the plain rule)" in at.board.newest.say.lower()
    at.bench.end("done")


@pytest.mark.parametrize(("bench", "wait_s"), [("scale", LAST_OF_UNTOLD_S), ("simulated", LAST_S)])
def test_the_end_waits_longer_for_a_real_cup_that_has_no_clock(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bench: str, wait_s: float
) -> None:
    waited = []

    class Slow(Nobody):
        def wait(self, within_s: float) -> None:
            waited.append(within_s)

    monkeypatch.setattr(SEER, Slow)
    with Journal.open(tmp_path / "record.cupside") as journal:
        journal.append(cup(1, bench=bench))
    at = At(tmp_path / "record.cupside")
    at.bench.end("done")
    assert waited == [wait_s]


def test_nothing_to_wait_for_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SEER, Nobody)
    monkeypatch.setattr(Nobody, "wait", None)
    Clocks(Still(), lambda thought: None).finish(None)


@pytest.mark.parametrize(("minutes", "wrong"), [(2.3, True), (12, False)])
def test_a_word_before_there_is_a_clock_goes_by_the_label(
    record: Path, monkeypatch: pytest.MonkeyPatch, minutes: float, wrong: bool
) -> None:
    monkeypatch.setattr(SEER, Nobody)
    at = At(record)
    at.age(1, minutes * 60)
    assert (WRONG in at.say("thick")) is wrong
    marks = {cue.mark for cue in at.cup(1).stands.cues}
    assert "thick" in marks
    assert ("warm" in marks) or not wrong
    assert any(WRONG in cue.say for cue in at.cup(1).stands.cues) is wrong
    at.bench.end("done")


def test_by_command_a_word_goes_by_the_label_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mixer.app.life.told_of_cups.Clock", Still)
    path = tmp_path / "record.cupside"
    with Journal.open(path) as journal:
        journal.append(cup(1))
    monkeypatch.setattr(Still, "age_s", lambda clock: 170.0)
    assert WRONG in thick(path, "1")
