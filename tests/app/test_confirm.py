"""The label is compared with the profile before the first real pour."""

from __future__ import annotations

import dataclasses
import json
import os
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.files.confirm import (
    ConfirmError,
    confirm,
    default_store,
    is_confirmed,
    store_trouble,
)
from mixer.app.files.profiles import ResinProfile, load_resin

AT = datetime(2024, 5, 4, 12, 30, tzinfo=UTC)
ROOT = (Path(__file__).parents[2] / "profiles",)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "config" / "confirmed.json"


@pytest.fixture(scope="module")
def two() -> ResinProfile:
    return load_resin("sample-36", ROOT)  # 1.15 and 0.98 g/mL


@pytest.fixture(scope="module")
def blend() -> ResinProfile:
    return load_resin("sample-blend", ROOT)


def refusal(profile: ResinProfile, ratio: str, by: str, store: Path) -> str:
    with pytest.raises(ConfirmError) as caught:
        confirm(profile, ratio, by, store, AT)
    sentence = str(caught.value)
    assert sentence.isprintable()
    assert not is_confirmed(profile, store)
    return sentence


def changed(profile: ResinProfile, index: int, **what: object) -> ResinProfile:
    components = list(profile.components)
    components[index] = dataclasses.replace(components[index], **what)
    return dataclasses.replace(profile, components=tuple(components))


def test_a_label_by_weight(two: ResinProfile, store: Path) -> None:
    assert not is_confirmed(two, store)
    assert store_trouble(store) is None
    sentence = confirm(two, " 100 : 36 ", "weight", store, AT)
    assert "sample-36 is confirmed" in sentence
    assert "100 : 36 by weight" in sentence
    assert is_confirmed(two, store)


def test_a_label_by_volume_is_converted_with_the_densities(two, store: Path) -> None:
    # 36 / 0.98 mL to 100 / 1.15 mL = 42.24 : 100.
    sentence = confirm(two, "100:42", "volume", store, AT)
    assert "100:42 by volume" in sentence
    assert "100:36 by weight" in sentence


def test_a_label_by_volume_never_passes_as_one_by_weight(two, store: Path) -> None:
    by_weight = refusal(two, "100:42", "weight", store)
    assert "the label says 100:42 by weight, the profile has 100:36 by weight" in by_weight
    by_volume = refusal(two, "100:36", "volume", store)
    assert "the label says 100:36 by volume, the profile has 100:42.24 by volume" in by_volume


@pytest.mark.parametrize(
    ("ratio", "by", "agrees"),
    [
        ("100:36.07", "weight", True),
        ("100:36.08", "weight", False),
        ("100:35.93", "weight", True),
        ("100:35.92", "weight", False),
        ("25:9", "weight", True),
        ("2.78:1", "weight", True),
        ("36:100", "weight", False),
        ("100:42.7", "volume", True),  # what is rounded in it and in the densities: 1.26 %
        ("100:42.8", "volume", False),
        ("100:41.8", "volume", True),
        ("100:41.7", "volume", False),
        ("100:43", "volume", True),  # a whole figure: 2 % at most
        ("100:44", "volume", False),
        ("100:41", "volume", False),
    ],
)
def test_how_near_is_near_enough(two, store: Path, ratio: str, by: str, agrees: bool) -> None:
    if agrees:
        confirm(two, ratio, by, store, AT)
        assert is_confirmed(two, store)
    else:
        assert "must agree within" in refusal(two, ratio, by, store)


def test_a_blend_is_confirmed_in_all_its_parts(blend: ResinProfile, store: Path) -> None:
    sentence = refusal(blend, "100:36", "weight", store)
    assert "has 2 parts, sample-blend has 3" in sentence
    assert "resin : fast : slow" in sentence
    assert "by weight" in refusal(blend, "100:12:24", "weight", store)  # the sum is right
    confirm(blend, "100:24:12", "weight", store, AT)
    assert is_confirmed(blend, store)


@pytest.mark.parametrize(
    "ratio",
    [
        "",
        "36",
        "100:",
        ":36",
        "100:0",
        "-100:36",
        "100:-36",
        "100;36",
        "100:nan",
        "1e2:36",
        "inf:36",
        "100:36 g",
        "100:３６",
        "1" * 500,
        "1:" * 500,
        "100:36\n:",
        "0:0",
        "a:b",
    ],
)
def test_what_is_no_ratio(two: ResinProfile, store: Path, ratio: str) -> None:
    sentence = refusal(two, ratio, "weight", store)
    assert "as A:B from the label" in sentence


@pytest.mark.parametrize("by", ["", "mass", "Weight", "vol"])
def test_it_must_be_said_whether_by_weight_or_volume(two, store: Path, by: str) -> None:
    assert "by weight or volume" in refusal(two, "100:36", by, store)


@given(st.text(max_size=60), st.sampled_from(["weight", "volume"]))
def test_any_text_is_confirmed_or_refused_with_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, ratio: str, by: str
) -> None:
    profile = load_resin("sample-36", ROOT)
    store = tmp_path_factory.getbasetemp() / "never" / "confirmed.json"
    refusal(profile, ratio, by, store)


@given(
    st.floats(10, 1000),
    st.floats(5, 900),
    st.floats(0.8, 1.5),
    st.floats(0.8, 1.5),
    st.floats(1, 9),
)
def test_a_true_label_is_confirmed_in_either_way_and_in_any_terms(
    tmp_path_factory: pytest.TempPathFactory, r: float, h: float, rd: float, hd: float, by: float
) -> None:
    store = tmp_path_factory.getbasetemp() / "true" / "confirmed.json"
    base = changed(load_resin("sample-36", ROOT), 0, parts=r, density_g_per_ml=rd)
    profile = changed(base, 1, parts=h, density_g_per_ml=hd)
    confirm(profile, f"{100 * by:.6f}:{100 * by * h / r:.6f}", "weight", store, AT)
    confirm(profile, f"{100 * by:.6f}:{100 * by * h / r * rd / hd:.6f}", "volume", store, AT)


def test_an_edited_profile_must_be_confirmed_anew(two, blend, store: Path) -> None:
    confirm(two, "100:36", "weight", store, AT)
    assert not is_confirmed(blend, store)
    for edited in [
        changed(two, 1, parts=36.1),
        changed(two, 0, density_g_per_ml=1.16),
        changed(two, 1, name="other"),
        dataclasses.replace(two, ratio_tolerance=0.05),
        dataclasses.replace(two, split_tolerance=0.05),
        dataclasses.replace(two, name="another"),
    ]:
        assert not is_confirmed(edited, store)
    for same_mix in [
        changed(two, 0, parts=100.0, drip_s=3.0),
        dataclasses.replace(two, about="corrected", stir_s=90.0),
    ]:
        assert is_confirmed(same_mix, store)


def test_the_store_says_what_when_and_of_which_source(two, blend, store: Path) -> None:
    confirm(two, "100:36", "weight", store, AT.astimezone(timezone(timedelta(hours=-7))))
    confirm(blend, "100:24:12", "weight", store, AT)
    entries = list(json.loads(store.read_text("utf-8"))["confirmed"].values())
    assert {e["resin"] for e in entries} == {"sample-36", "sample-blend"}
    assert {e["at_utc"] for e in entries} == {"2024-05-04T12:30:00+00:00"}
    assert is_confirmed(two, store)
    assert is_confirmed(blend, store)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b"[]",
        b"null",
        b'{"v": 1}',
        b'{"v": 2, "confirmed": {}}',
        b'{"v": 1, "confirmed": []}',
        b'{"v": 1, "confirmed": {"a": true}}',
        b"[" * 100_000,
    ],
)
def test_a_damaged_store_confirms_nothing_and_is_not_lost(two, store: Path, content) -> None:
    confirm(two, "100:36", "weight", store, AT)
    store.write_bytes(content)
    assert not is_confirmed(two, store)
    assert "is damaged, so no resin counts as confirmed" in (store_trouble(store) or "")
    sentence = confirm(two, "100:36", "weight", store, AT)
    assert "was damaged and is kept as confirmed.damaged.json" in sentence
    assert store.with_name("confirmed.damaged.json").read_bytes() == content
    assert is_confirmed(two, store)
    assert store_trouble(store) is None


def test_half_a_store_is_damaged_at_every_byte(two: ResinProfile, store: Path) -> None:
    confirm(two, "100:36", "weight", store, AT)
    whole = store.read_bytes()
    for length in range(len(whole)):
        store.write_bytes(whole[:length])
        assert not is_confirmed(two, store)


def test_a_failing_disk_leaves_the_old_store_whole(
    two, blend, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    confirm(two, "100:36", "weight", store, AT)
    before = store.read_bytes()
    for broken in ("fsync", "replace"):
        with monkeypatch.context() as patch:

            def fail(*_: object) -> None:
                raise OSError(28, "No space left on device")

            patch.setattr(os, broken, fail)
            assert "No space left on device" in refusal(blend, "100:24:12", "weight", store)
        assert store.read_bytes() == before
        assert list(store.parent.iterdir()) == [store]


def test_a_folder_that_cannot_be_made(two: ResinProfile, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    store = tmp_path / "file" / "confirmed.json"
    with pytest.raises(ConfirmError, match="cannot be written"):
        confirm(two, "100:36", "weight", store, AT)
    assert not is_confirmed(two, store)


def test_the_store_stands_beside_the_users_profiles(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUPSIDE_CONFIG", str(tmp_path))
    assert default_store() == tmp_path / "confirmed.json"


def test_what_the_builder_adds_of_his_own_is_on_no_label(store: Path) -> None:
    tinted = load_resin("sample-tinted", ROOT)
    refused = refusal(tinted, "100:4:36", "weight", store)
    assert "has 2 on its label (pigment of your own not counted); give 2" in refused
    assert "resin : hardener" in refused
    assert "100:36" in confirm(tinted, "100:36", "weight", store, AT)
    assert is_confirmed(tinted, store)
    assert not is_confirmed(changed(tinted, 1, parts=5.0), store)
    assert not is_confirmed(changed(tinted, 1, tolerance=0.1), store)


def test_a_tag_on_the_jug_is_no_part_of_what_was_confirmed(two: ResinProfile, store: Path) -> None:
    confirm(two, "100:36", "weight", store, AT)
    assert is_confirmed(changed(two, 1, tag="H-1"), store)


def test_a_label_that_contradicts_takes_an_earlier_confirmation_back(two, store: Path) -> None:
    confirm(two, "100:36", "weight", store, AT)
    refusal(two, "100:42", "weight", store)
    confirm(two, "100:36", "weight", store, AT)
    with pytest.raises(ConfirmError):
        confirm(two, "no ratio", "weight", store, AT)
    assert is_confirmed(two, store)
