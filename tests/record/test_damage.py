"""A sample of the campaign that turns every bit and cuts at every page."""

from __future__ import annotations

from pathlib import Path

import pytest
from benchmarks import damage


@pytest.fixture(scope="module")
def sampled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[tuple[int, int]]]:
    folder = tmp_path_factory.mktemp("damage")
    return folder, damage.sample(folder / "record")


def test_a_turned_bit_is_found(sampled: tuple[Path, list[tuple[int, int]]]) -> None:
    came = damage.bits(sampled[0] / "record", 149)
    assert came["found"] > 100
    assert came["MISSED"] == 0


def test_a_cut_costs_no_more_than_what_it_cuts(
    sampled: tuple[Path, list[tuple[int, int]]],
) -> None:
    came = damage.cuts(*sampled, step=40)
    assert came["whole up to the cut"] > 50
    assert came["LOST"] + came["UNSEEN"] == 0
