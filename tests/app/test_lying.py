"""The dry cloth upon the scale: what lies there is what counts."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from devices.readings import Reading
from mixer.app.bench.lying import Lying
from mixer.pour.inputs import Weighed
from mixer.pour.observe import observe
from mixer.pour.sight import Sight

LEAST_G = 1  # what is lighter may be the empty pan


class Pan:
    def __init__(self) -> None:
        self.lying, self._sight, self._at_s = Lying(), Sight(), 0.0

    def rest(self, mass_g: float, tared: bool = False) -> list[str]:
        seen = []
        for _ in range(25):
            self._at_s += 0.1
            mass_ug = round(mass_g * 10) * 100_000
            read = Reading(
                mass_ug, f"{mass_g:.1f} g", "g", 100_000, True, scale_tared=tared, at_s=self._at_s
            )
            self._sight = observe(self._sight, Weighed(read), following=False)
            seen.append(self.lying.see(self._sight))
        return [one for one in seen if one]


#: No whole grams again and again: a scale that shows those alone counts by them.
LAID_ON = st.just(0.0) | st.integers(1, 500).map(lambda mass_g: mass_g + 0.3)


@settings(max_examples=30, deadline=None)
@given(st.lists(LAID_ON, min_size=1, max_size=8))
def test_what_lies_there_counts_whatever_lay_there_before(masses_g: list[float]) -> None:
    pan = Pan()
    pan.rest(0)
    for mass_g in masses_g:
        pan.rest(mass_g)
        told_ug = pan.lying.cloth_ug
        assert (told_ug is not None) == (mass_g >= LEAST_G)
        if told_ug is not None:
            assert abs(told_ug - mass_g * 1_000_000) <= 0.002 * told_ug + 100_000


@settings(max_examples=20, deadline=None)
@given(st.integers(2, 500), st.lists(st.integers(0, 500), max_size=4))
def test_what_was_typed_counts_until_more_is_laid_on(lies_g: int, after_g: list[int]) -> None:
    pan = Pan()
    pan.rest(0)
    pan.rest(lies_g)
    pan.lying.type(77_000_000)
    falling = sorted((g for g in after_g if g < lies_g), reverse=True)
    for mass_g in falling:
        pan.rest(mass_g)
    assert pan.lying.cloth_ug == 77_000_000
    pan.rest(lies_g + 10)
    assert pan.lying.cloth_ug == (lies_g + 10) * 1_000_000


def test_what_lay_there_at_the_start_is_no_cloth_and_is_asked_for() -> None:
    pan = Pan()
    assert set(pan.rest(80)) == {"unknown"}
    assert pan.lying.cloth_ug is None
    assert pan.rest(0) == []
    assert pan.rest(80) == ["cloth"]
    assert pan.rest(0) == ["empty"]


def test_a_draught_is_no_ply_and_many_of_them_are() -> None:
    pan = Pan()
    pan.rest(0)
    pan.rest(500)
    assert (pan.rest(499.2), pan.rest(500.9)) == ([], [])
    assert pan.lying.cloth_ug == 500_000_000
    assert pan.rest(501.8) == ["cloth"]


def test_it_is_weighed_from_what_the_empty_pan_shows_and_never_on_a_tared_scale() -> None:
    pan = Pan()
    pan.rest(0.4)
    pan.rest(80.4)
    assert pan.lying.cloth_ug == 80_000_000
    assert pan.rest(30, tared=True) == []
    assert pan.lying.cloth_ug == 80_000_000


def test_as_it_begins_anew_what_was_typed_is_gone_and_what_lies_there_counts() -> None:
    pan = Pan()
    pan.rest(0)
    pan.rest(80)
    pan.lying.type(50_000_000)
    pan.lying.begin_anew()
    assert pan.lying.cloth_ug is None
    assert pan.rest(80) == ["cloth"]
    assert pan.lying.cloth_ug == 80_000_000
