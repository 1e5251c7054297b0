"""A sample of the campaign that turns bits all over the file and cuts file and log."""

from __future__ import annotations

from pathlib import Path

from benchmarks import damage

BATCHES = 4  # as many calls as there are checkpoints at


def findings(came: damage.Came) -> list[str]:
    return [what for what, outcome in came if outcome == damage.FINDING]


def test_a_turned_bit_is_found_or_changes_nothing(tmp_path: Path) -> None:
    came = damage.bits(tmp_path, damage.SAMPLE * 800)
    assert came["page of facts", damage.BROKEN] > 50
    assert came["page of lots", damage.SAME] > 0
    assert not findings(came)


def test_a_cut_costs_no_more_than_what_it_cuts(tmp_path: Path) -> None:
    came = damage.cuts(tmp_path, BATCHES, damage.SAMPLE * 60)
    assert came[damage.POWER_CUT, damage.SAME] > 10
    assert came[damage.FILE_CUT, damage.AMISS] > 5
    assert came[damage.HALF_MOVED, damage.SAME] > 5
    assert not findings(came)
