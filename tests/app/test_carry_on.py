"""What becomes of a batch that was cut off, at the next start."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import fact
from support.shed import ASKED, Shed

from mixer.app.bench.carry_on import ALTERED, AT_LEAST, MAY_BE_FULL, NOT_AS_STORED, unfinished
from mixer.app.bench.left_open import find
from mixer.app.bench.paint import MAY_BE_OLDER, live_cups
from mixer.app.request import Request
from mixer.console import as_plain, as_text
from mixer.desk.figure import lines
from mixer.pour.inputs import Key
from mixer.pour.words import CUT_OFF_CUP
from mixer.record.envelope import RecordError
from mixer.record.views import live_cups as record_cups


@pytest.fixture
def shed(tmp_path: Path) -> Shed:
    return Shed(tmp_path)


def test_the_same_order_goes_on_with_the_same_batch(shed: Shed) -> None:
    shed.resin_is_in()
    shed.clock.pass_s(200)
    shed.start()
    shed.weigh(84.1)
    picture = shed.batch.picture()
    assert (picture.batch, picture.stage, picture.held) == (1, "pour", "restarted")
    assert shed.said == "Batch 1 goes on: it was cut off 3 min ago."
    shed.rest(84.1, 2)
    assert shed.batch.picture().held is None
    shed.pour(84.1, 100)
    shed.rest(100, 9)
    shed.go()
    shed.clock.pass_s(20)
    shed.tick()
    assert shed.batch.status == 0
    assert shed.kinds().count("opened") == 1
    assert {entry.batch for entry in shed.journal.entries()} == {1}
    assert shed.journal.verify().ok


def test_the_last_weight_of_the_trace_is_where_it_goes_on(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90)
    shed.rest(90, 2)
    shed.clock.pass_s(3600)
    shed.start()
    shed.weigh(90)
    (held,) = [entry for entry in shed.facts() if entry.kind == "held"]
    assert (held.data["gross_ug"], held.data["pouring"]) == (90_000_000, True)
    shed.rest(90, 2)
    assert shed.batch.picture().net_ug == 5_900_000


def test_a_kill_in_the_stream_costs_no_more_than_two_seconds_of_the_trace(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 98.0)
    shown = [sample.mass_ug for _, sample in shed.journal.trace(1)]
    assert shown[0] == 0
    assert 98_000_000 - shown[-1] <= 2 * 5_000_000


def test_a_stream_that_ran_on_while_the_program_was_gone_for_a_moment(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90)
    shed.clock.pass_s(1.5)
    shed.start()
    shed.rest(97, 2)
    assert shed.batch.picture().held is None
    assert [e.data["how"] for e in shed.facts() if e.kind == "resumed"] == ["continuous"]


@pytest.mark.parametrize("reboot", [False, True])
def test_the_hardener_is_as_old_as_it_is(shed: Shed, reboot: bool) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 100)
    shed.rest(100, 2)
    before = shed.batch.picture().contact_age_s
    assert before is not None
    shed.clock.reboot(570) if reboot else shed.clock.pass_s(600)
    shed.start()
    shed.weigh(100)
    assert shed.batch.picture().contact_age_s == pytest.approx(before + 600, abs=0.5)


def test_hardener_that_was_poured_unseen_may_have_come_at_once(shed: Shed) -> None:
    shed.resin_is_in()
    shed.clock.pass_s(1200)
    shed.start()
    shed.rest(84.8, 3)  # no more than might have dripped, but not drop by drop
    age_s = shed.batch.picture().contact_age_s
    assert age_s is not None
    assert age_s >= 1200


def test_a_stir_that_is_over_makes_the_cup_live_without_a_scale(shed: Shed) -> None:
    shed.all_is_in()
    shed.clock.reboot(600)
    shed.start()
    shed.tick()
    assert shed.batch.status == 0
    assert shed.kinds()[-1] == "live"
    assert "held" not in shed.kinds()


def test_a_stir_that_is_not_over_goes_on_for_the_rest_of_it(shed: Shed) -> None:
    shed.all_is_in()
    shed.clock.pass_s(5)
    shed.start()
    shed.tick()
    assert shed.batch.picture().remaining_s == pytest.approx(15, abs=0.2)


def test_what_is_said_anew_is_noted(shed: Shed) -> None:
    shed.resin_is_in()
    shed.start(replace(ASKED, operator="AB", layup="rib 3", air="22 degC"))
    shed.rest(84.1, 2)
    assert shed.batch.number == 1
    (note,) = [entry.data["text"] for entry in shed.facts() if entry.kind == "noted"]
    assert note == "gone on with, and said then: air 22 degC; operator AB; layup rib 3"


def test_for_another_layup_it_is_another_batch(shed: Shed) -> None:
    shed.start(replace(ASKED, layup="rib 3"))
    shed.resin_is_in()
    shed.start(replace(ASKED, layup="rib 4"))
    shed.rest(0, 1)
    assert shed.batch.number == 2


def test_that_weights_are_not_kept_is_said(shed: Shed, monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(*_: object) -> None:
        raise RecordError("The stick is gone.")

    shed.resin_is_in()
    monkeypatch.setattr(shed.journal, "add_trace", gone)
    shed.rest(84.1, 12)
    assert shed.batch.picture().say == "The weights are not being kept. The stick is gone."
    assert shed.batch.picture().held is None


OTHER = {
    "another size": replace(ASKED, size="70g"),
    "another resin": replace(ASKED, resin="sample-28"),
}


@pytest.mark.parametrize("what", OTHER)
def test_another_order_ends_it_with_what_was_in_its_cup(shed: Shed, what: str) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90)
    shed.rest(90, 1)
    shed.start(OTHER[what])
    shed.weigh(0)
    assert "Batch 1 was cut off; it is ended" in shed.said
    assert shed.batch.number == 2
    ended = shed.facts()[-1]
    assert (ended.kind, ended.data["how"], ended.data["verdict"]) == (
        "ended", "abandoned", "unproven",
    )  # fmt: skip
    assert ended.data["amounts_ug"] == [44_100_000, 5_900_000]


@pytest.mark.parametrize(("hours", "goes_on"), [(7.9, True), (8.1, False)])
def test_nobody_pours_on_into_the_cup_of_yesterday(shed: Shed, hours: float, goes_on: bool) -> None:
    shed.resin_is_in()
    shed.clock.reboot(hours * 3600)
    shed.start()
    shed.weigh(84.1)
    assert shed.batch.number == (1 if goes_on else 2)
    why = "as that is more than 8 h ago by this computer’s clock. Its cup holds 44.1 g of resin:"
    assert (why in shed.said) is not goes_on


@pytest.mark.parametrize(("cup_g", "doubted"), [(84.1, True), (83.9, True), (40.0, False)])
def test_the_cup_of_a_batch_that_was_ended_is_no_empty_one(
    shed: Shed, cup_g: float, doubted: bool
) -> None:
    """44.1 g of resin stand in it: put on as the new cup, it would be counted as nothing."""
    shed.resin_is_in()
    shed.clock.reboot(9 * 3600)
    shed.start()
    shed.rest(0, 3)
    shed.rest(cup_g, 3)
    assert shed.batch.number == 2
    assert ("doubted" in shed.kinds(2)) is doubted
    assert (shed.said == MAY_BE_FULL) is doubted


@pytest.mark.parametrize("how", ["dropped", "live", "closed"])
def test_nor_is_that_of_one_that_was_dropped_or_went_live(shed: Shed, how: str) -> None:
    if how == "dropped":
        shed.resin_is_in()
        shed.batch.take(Key(shed.clock.at_s, "drop"))
    else:
        shed.all_is_in()
        shed.rest(100, 25)
    assert shed.kinds()[-1] == ("ended" if how == "dropped" else "live")
    if how == "closed":
        shed.journal.append([fact("closed", 1, how="used-up", left_ug=None)])
    shed.start()
    shed.rest(0, 3)
    shed.rest(84.1 if how == "dropped" else 100, 3)
    assert shed.batch.number == 2
    assert ("doubted" in shed.kinds(2)) is (how != "closed")


def test_a_cup_that_was_never_weighed_is_the_reason_that_is_given(shed: Shed) -> None:
    shed.rest(0, 1)
    shed.start()
    shed.weigh(0)
    assert "it is ended, as its cup was never weighed." in shed.said


@pytest.mark.parametrize("forged", [False, True])
def test_a_batch_that_was_altered_goes_on_and_that_is_said(shed: Shed, forged: bool) -> None:
    shed.resin_is_in()
    with closing(sqlite3.connect(shed.record)) as db, db:
        which = "FROM facts WHERE kind = 'accepted'"
        seq, prev, canonical = db.execute(f"SELECT seq, prev, bytes {which}").fetchone()
        other = canonical.replace(b'"net_ug":44100000', b'"net_ug":36100000')
        assert other != canonical
        db.execute("UPDATE facts SET bytes = ? WHERE seq = ?", [other, seq])
        if forged:
            hash_ = sha256(prev + other).digest()
            db.execute("UPDATE facts SET hash = ? WHERE seq = ?", [hash_, seq])
    shed.start()
    shed.rest(84.1, 0.1)
    assert shed.batch.number == 1
    assert ALTERED in shed.said
    shed.rest(84.1, 5)
    assert ALTERED not in shed.said


@pytest.mark.parametrize(
    "change",
    [
        "DELETE FROM facts WHERE kind = 'begun'",
        "DELETE FROM facts WHERE seq = (SELECT max(seq) FROM facts WHERE batch = 1)",
        "UPDATE facts SET batch = 7 WHERE kind = 'begun'",
    ],
)
def test_a_batch_with_facts_taken_out_goes_on_but_is_never_in_band(shed: Shed, change: str) -> None:
    shed.resin_is_in()
    other = replace(shed.facts()[0], kind="noted", batch=0, data={"text": "x"})
    shed.journal.append([other])
    with closing(sqlite3.connect(shed.record)) as db, db:
        assert db.execute(change).rowcount == 1
    for _ in range(2):
        shed.start()
        shed.weigh(84.1)
        assert shed.batch.number == 1
        assert ALTERED in shed.said
    assert shed.batch.durable.doubts.count(NOT_AS_STORED) == 1


def test_what_other_batches_wrote_in_between_is_no_alteration(shed: Shed) -> None:
    shed.resin_is_in()
    other = replace(shed.facts()[0], kind="noted", batch=0, data={"text": "x"})
    shed.journal.append([other])
    shed.batch.take(Key(shed.clock.at_s, "note", "between"))
    shed.journal.append([other])
    shed.start()
    shed.weigh(84.1)
    assert shed.batch.number == 1
    assert ALTERED not in shed.said


def test_without_a_cup_there_is_nothing_to_go_on_with(shed: Shed) -> None:
    shed.rest(0, 1)
    shed.start()
    shed.weigh(0)
    assert shed.batch.number == 2
    assert shed.facts()[-1].data["how"] == "abandoned"


def test_hands_and_stir_may_be_others_but_go_on_as_they_began(shed: Shed) -> None:
    shed.resin_is_in()
    shed.start(replace(ASKED, hands_free=True, stir="90 s"))
    shed.weigh(84.1)
    assert shed.batch.number == 1


def test_a_capacity_that_the_scale_told_makes_no_other_order_of_it(shed: Shed) -> None:
    shed.batch.order = shed.batch.order.on_scale_of(1_500_000_000)
    shed.resin_is_in()
    shed.start()
    shed.weigh(84.1)
    assert shed.batch.number == 1


@pytest.mark.parametrize(("first", "then"), [("resin=200g", "resin=160g"), ("resin=200g", None)])
def test_what_is_left_of_the_lots_makes_no_other_order_of_it(
    tmp_path: Path, first: str, then: str | None
) -> None:
    shed = Shed(tmp_path, replace(ASKED, left=first))
    shed.resin_is_in()
    shed.start(replace(ASKED, left=then))
    shed.weigh(84.1)
    assert shed.batch.number == 1


def test_tags_that_the_profile_has_since_make_no_other_order_of_it(shed: Shed) -> None:
    shed.resin_is_in()
    order = shed.start().order
    jugs = tuple(replace(jug, tag=jug.name) for jug in order.terms.recipe.components)
    recipe = replace(order.terms.recipe, components=jugs)
    shed.batch.order = replace(order, terms=replace(order.terms, recipe=recipe))
    shed.weigh(84.1)
    assert shed.batch.number == 1
    assert all(jug.tag is None for jug in shed.batch.durable.terms.recipe.components)


def test_a_batch_that_this_program_cannot_read_keeps_none_from_being_poured(shed: Shed) -> None:
    shed.resin_is_in()
    opened, *_ = shed.facts()
    shed.journal.open_batch(replace(opened, data={"terms": "of another program"}))
    shed.journal.append([replace(shed.facts()[1], batch=2, data={"tare_ug": "heavy"})])
    shed.start(OTHER["another size"])
    shed.rest(0, 1)
    assert shed.batch.number == 3
    assert shed.kinds(2) == ["opened", "tared"]


@pytest.mark.parametrize("utc", ["2026-02-30T08:00:00.000Z", "0000-01-01T00:00:00.000Z"])
@pytest.mark.parametrize("reboot", [False, True])
def test_a_batch_with_a_time_that_never_was_is_passed_over_and_said(
    shed: Shed, utc: str, reboot: bool
) -> None:
    shed.resin_is_in()
    shed.journal.append([replace(shed.facts()[-1], kind="noted", data={"text": "x"}, utc=utc)])
    before = shed.kinds()
    if reboot:
        shed.clock.reboot(600)
    offer, say = unfinished(shed.journal, shed.clock.now())
    assert offer is None
    assert say == PASSED_OVER
    shed.start()
    shed.rest(0, 0.1)
    assert shed.batch.number == 2
    assert PASSED_OVER in shed.said
    assert shed.kinds() == before


@pytest.mark.parametrize("seq", [1, 4])
def test_a_batch_that_is_damaged_hides_no_other_one(shed: Shed, seq: int) -> None:
    shed.resin_is_in()
    shed.journal.open_batch(shed.facts()[0])
    shed.journal.append([replace(entry, batch=2) for entry in shed.facts()[1:]])
    with closing(sqlite3.connect(shed.record)) as db, db:
        db.execute("UPDATE facts SET bytes = x'7b7d' WHERE seq = ?", [seq])
    offer, say = unfinished(shed.journal, shed.clock.now())
    assert offer == ASKED
    assert say.startswith("Batch 2, 60g of sample-36, was cut off")
    assert say.endswith(PASSED_OVER)
    shed.start()
    shed.rest(84.1, 0.1)
    assert shed.batch.number == 2
    assert PASSED_OVER in shed.said
    assert shed.kinds(2).count("opened") == 1


PASSED_OVER = (
    "Batch 1 was cut off, and is left as it is: its facts are not as this program writes them."
)


def test_a_live_cup_with_a_time_that_never_was_is_shown(shed: Shed) -> None:
    shed.all_is_in()
    shed.clock.pass_s(20)
    shed.tick()
    no_time = "2026-02-30T08:00:00.000Z"
    copies = [replace(entry, batch=2, utc=no_time) for entry in shed.facts()]
    (at,) = [n for n, e in enumerate(copies) if e.kind == "begun" and e.data["component"] == 1]
    copies[at].data["unseen_ms"] = 5_000
    copies[-1] = replace(copies[-1], utc=shed.clock.utc())  # live
    shed.journal.append(copies)
    shed.clock.reboot(off_s=3600)
    first, second = live_cups(record_cups(shed.journal.entries(outcome="live")), shed.clock.now())
    assert first.age_s > 3600
    assert second.age_s == pytest.approx(first.age_s + 5)


def test_of_several_the_newest_goes_on_and_all_others_are_ended(shed: Shed) -> None:
    shed.resin_is_in()
    last = shed.facts()[0]
    for _ in range(2):
        shed.journal.open_batch(last)
    third = [replace(entry, batch=3) for entry in shed.facts()[1:]]
    shed.journal.append(third)
    shed.start()
    shed.weigh(84.1)
    assert shed.batch.number == 3
    assert [shed.kinds(batch)[-1] for batch in (1, 2)] == ["ended", "ended"]


def test_no_scale_no_end(shed: Shed) -> None:
    """A wrong port is soon typed: nothing is ended, and nothing begun, before a weight."""
    shed.resin_is_in()
    before = shed.kinds()
    shed.start(OTHER["another size"])
    for _ in range(2):
        shed.clock.pass_s(3)
        shed.tick()
    assert shed.batch.status == 3
    assert shed.kinds() == before


def test_what_was_in_trouble_when_it_was_cut_off_still_is(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90)
    shed.rest(90, 2)
    shed.rest(0, 2)  # the cup was lifted
    assert shed.batch.picture().held == "lifted"
    shed.start()
    shed.rest(0, 2)
    assert shed.batch.picture().held == "restarted"
    shed.rest(90, 2)
    picture = shed.batch.picture()
    assert (picture.held, picture.net_ug) == (None, 5_900_000)


def test_with_its_cup_gone_a_batch_is_told_of_until_it_is_dropped(shed: Shed) -> None:
    shed.resin_is_in()
    shed.start()
    shed.rest(0, 30)
    picture = shed.batch.picture()
    assert (picture.cue, picture.say) == ("place", CUT_OFF_CUP)
    shed.batch.take(Key(shed.clock.age_s(), "drop"))
    assert (shed.batch.picture().outcome, shed.kinds()[-1]) == ("dropped", "ended")
    shed.start()
    shed.rest(0, 2)
    assert (shed.batch.number, shed.batch.picture().held) == (2, None)


def test_a_hold_by_hand_holds_on(shed: Shed) -> None:
    shed.resin_is_in()
    shed.batch.take(Key(shed.clock.at_s, "hold"))
    shed.start()
    shed.rest(84.1, 2)
    assert shed.batch.picture().held == "by-hand"


def test_a_record_that_takes_nothing_for_a_while_loses_nothing(
    shed: Shed, monkeypatch: pytest.MonkeyPatch
) -> None:
    shed.resin_is_in()
    shed.start(OTHER["another size"])

    def full(*_: object) -> None:
        raise RecordError("The disk is full.")

    with monkeypatch.context() as patch:
        patch.setattr(shed.journal, "append", full)
        shed.rest(0, 1)
        assert shed.batch.picture().held == "record"
    shed.rest(0, 1)
    assert shed.kinds().count("ended") == 1
    assert shed.batch.number == 2


CUT = st.tuples(
    st.integers(1, 260),  # readings until it is killed
    st.sampled_from([0.5, 2.0, 60.0, 5000.0]),  # for how long it is gone
    st.booleans(),  # whether the computer was switched off too
    st.sampled_from([None, -3600.0, 90.0]),  # by how much UTC passes; None: as time does
)


@settings(max_examples=15, deadline=None)
@given(cuts=st.lists(CUT, min_size=1, max_size=3))
def test_wherever_it_is_killed_the_state_is_what_the_journal_says(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[tuple[int, float, bool, float | None]]
) -> None:
    shed = Shed(tmp_path_factory.mktemp("shed"))
    shown, rebooted = 0, False
    for readings, gap_s, reboot, utc_s in cuts:
        for _ in range(readings):
            shown += 1
            into_g = 0.0 if shown < 15 else min(100.0, 40 + max(0, shown - 50) * 0.4)
            shed.weigh(into_g, still=not 50 < shown < 200)
            if shown % 90 == 0:
                shed.go()
        if shed.batch.status is not None:
            break
        before = shed.batch.durable
        if reboot:
            shed.clock.reboot(gap_s, utc_s=utc_s)
        else:
            shed.clock.pass_s(gap_s, utc_s=utc_s)
        rebooted |= reboot
        (left,), _ = find(shed.journal, shed.clock.now())
        if not rebooted:
            assert left.pour == before
        assert replace(left.pour, **_TIMES) == replace(before, **_TIMES)
        shed.start()
        shed.weigh(into_g)
        if shed.batch.status is None and not rebooted:
            assert shed.batch.durable == find(shed.journal, shed.clock.now())[0][-1].pour
    assert shed.journal.verify().ok


#: What is counted on another clock after a reboot.
_TIMES: dict[str, Any] = {
    "tared": None, "called": None, "begun_ms": None, "lost_ms": None, "contact_ms": None,
    "stir_from_ms": None, "trouble": None, "held_ms": None, "astray_ms": None,
    "result": None,
}  # fmt: skip


# -- clocks ---------------------------------------------------------------------------------


def test_what_other_facts_prove_counts_for_a_pour_that_goes_on(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90)
    shed.clock.pass_s(3600)
    other = replace(shed.facts()[0], kind="noted", batch=0, data={"text": "x"})
    at_ms = round(shed.clock.at_s * 1000)
    shed.journal.append([replace(other, at_ms=at_ms, boot=shed.clock.boot, utc=shed.clock.utc())])
    shed.clock.reboot(off_s=60, up_s=30, utc_s=-86_400)
    shed.start()
    shed.weigh(90)
    age_s = shed.batch.picture().contact_age_s
    assert age_s is not None
    assert age_s >= 3600 + 30


def test_a_clock_that_was_set_back_between_two_boots_is_said_and_the_older_age_taken(
    shed: Shed,
) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 100)
    shed.rest(100, 60)
    shed.clock.reboot(600, up_s=40, utc_s=-7200)
    shed.start()
    shed.weigh(100)
    assert "set back" in shed.said
    age_s = shed.batch.picture().contact_age_s
    assert age_s is not None
    assert age_s >= 90  # a minute of trace in the old boot, and what this one has run
    assert AT_LEAST in [entry.data.get("text") for entry in shed.facts()]


def test_an_age_that_is_only_proven_is_marked_until_the_cup_is_closed(shed: Shed) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 95)
    shed.rest(95, 2)
    shed.clock.reboot(1460, up_s=40, utc_s=-3600)
    shed.start()
    shed.weigh(95)
    assert "it was cut off at least 4" in shed.said
    assert AT_LEAST in shed.said
    shed.rest(95, 7)
    shed.rest(0, 4)
    shed.rest(95, 5)
    picture = shed.batch.picture()
    assert picture.contact_at_least
    assert "at least " in " ".join(lines(replace(picture, held=None)))
    shed.pour(95, 100)
    shed.rest(100, 9)
    shed.go()
    assert MAY_BE_OLDER in shed.batch.picture().say
    shed.clock.pass_s(20)
    shed.tick()
    picture = shed.batch.picture()
    assert (picture.stage, picture.contact_at_least) == ("live", True)
    assert MAY_BE_OLDER in picture.say
    assert "may be older" in as_text(picture, over=True)
    assert as_plain(picture, over=True)["contact_at_least"]
    assert "at least" in lines(picture)[0]
    (cup,) = live_cups(record_cups(shed.facts()), shed.clock.now())
    assert cup.age_at_least
    assert as_plain(replace(picture, live_cups=(cup,)), over=True)["live_cups"][0]["age_at_least"]


def test_hardener_that_came_after_the_clock_was_set_is_as_old_as_it_is(shed: Shed) -> None:
    shed.resin_is_in()
    shed.clock.reboot(600, up_s=40, utc_s=-7200)
    shed.start()
    shed.rest(84.1, 7)
    shed.rest(0, 4)
    shed.rest(84.1, 5)
    shed.pour(84.1, 95)
    shed.rest(95, 2)
    assert not shed.batch.picture().contact_at_least
    shed.start()
    shed.weigh(95)
    assert not shed.batch.picture().contact_at_least
    assert AT_LEAST not in shed.said


@pytest.mark.parametrize(("jump_s", "way"), [(-7200, "back by 2 h"), (86_400, "forward by 24 h")])
def test_a_clock_that_is_set_in_mid_pour_changes_nothing_and_is_noted_once(
    shed: Shed, jump_s: float, way: str
) -> None:
    shed.resin_is_in()
    shed.pour(84.1, 90.2)
    shed.clock.pass_s(0, utc_s=jump_s)
    shed.rest(90.2, 1)
    assert way in shed.said
    shed.pour(90.2, 100)
    shed.rest(100, 9)
    shed.go()
    shed.clock.pass_s(20)
    shed.tick()
    assert shed.batch.status == 0
    assert [way in e.data["text"] for e in shed.facts() if e.kind == "noted"] == [True]


@pytest.mark.parametrize("ticks", [0, 1, 12])
def test_a_computer_that_slept_in_mid_pour_is_a_gap_and_no_more(shed: Shed, ticks: int) -> None:
    """Awake again, it may be some moments until the scale is heard."""
    shed.resin_is_in()
    shed.clock.pass_s(3 * 3600)
    for _ in range(ticks):
        shed.tick()
        shed.clock.pass_s(0.1)
    shed.rest(84.1, 2)
    assert (shed.batch.status, shed.batch.picture().held) == (None, None)
    assert [e.kind for e in shed.facts() if e.kind in ("held", "noted")] == ["held"]


def test_a_scale_that_stays_away_after_a_sleep_is_lost_in_its_time(shed: Shed) -> None:
    shed.resin_is_in()
    shed.clock.pass_s(3 * 3600)
    for _ in range(590):
        shed.tick()
        shed.clock.pass_s(0.1)
    assert shed.batch.status is None
    for _ in range(30):
        shed.tick()
        shed.clock.pass_s(0.1)
    assert shed.batch.status == 3


# -- at the start -----------------------------------------------------------------------------


def test_the_start_offers_what_was_cut_off(shed: Shed) -> None:
    asked = replace(ASKED, hands_free=True, layup="rudder skin")
    shed.start(asked)
    shed.rest(0, 1)
    shed.rest(40, 3)
    shed.clock.pass_s(600)
    offer, say = unfinished(shed.journal, shed.clock.now())
    assert offer == asked
    assert say.startswith("Batch 1, 60g of sample-36, was cut off 10 min ago:")
    shed.clock.pass_s(8 * 3600)
    assert unfinished(shed.journal, shed.clock.now()) == (None, "")


def test_words_that_the_record_cannot_keep_are_not_asked_for_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A port may have a name that is no text."""
    monkeypatch.setattr("mixer.app.resolve.is_confirmed", lambda *_: True)
    shed = Shed(tmp_path, Request("sample-36", "60g", "/dev/scale\ud800"))
    shed.rest(0, 1)
    shed.rest(40, 3)
    assert shed.kinds() == ["opened", "tared", "called"]
    assert unfinished(shed.journal, shed.clock.now()) == (None, "")


def test_a_clock_that_was_set_back_while_the_program_was_gone_is_said(shed: Shed) -> None:
    """In one boot: the age clock is right, and what the record says of the time is not."""
    shed.resin_is_in()
    shed.pour(84.1, 100)
    shed.rest(100, 2)
    shed.clock.pass_s(3, utc_s=-3 * 3600)
    shed.start()
    shed.weigh(100)
    assert "set back" in shed.said
    assert any("set back" in str(entry.data.get("text")) for entry in shed.facts())
