"""Wrong input to ``mix``: one sentence, status 2, and nothing in the record."""

from __future__ import annotations

import contextlib
import io
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from support.command import Mix, bench, one_sentence, without_privileges

import mixer
from mixer.cli import main
from mixer.record.journal import Journal

GOOD = (Path(mixer.__file__).parents[1] / "profiles/resins/sample-36.toml").read_text()


def assert_refused(mix: Mix, *said: str, resin: str = "", size: str = "50g") -> None:
    assert mix.run(resin=resin, size=size) == 2
    assert one_sentence(mix.err), mix.err
    for words in said:
        assert words in mix.err, mix.err
    assert not mix.record.exists()
    assert mix.last["say"] == mix.err.strip()


@pytest.mark.parametrize(
    ("size", "said"),
    [
        ("60 cm", "is a length"),
        ("60", "no unit"),
        ("0g", "above zero"),
        ("0.9g", "give 1 g or more"),
        ("-5g", "size: '-5g'"),
        ("nan g", "size: 'nan g'"),
        ("inf g", "size: 'inf g'"),
        ("", "size: nothing was given"),
        ("5.01 kg", "more than the scale may carry; give up to 5000.0 g"),
    ],
)
def test_a_size_that_is_none(mix: Mix, size: str, said: str) -> None:
    assert_refused(mix, said, size=size)


def test_a_lot_of_nothing(mix: Mix) -> None:
    assert mix.run(lambda mix: None, "--resin-lot", " ") == 2
    assert "resin-lot: nothing was given" in mix.err


@pytest.mark.parametrize(("size", "fits"), [("99 g", False), ("98.9 g", True)])
def test_a_size_above_the_cup(mix: Mix, size: str, fits: bool) -> None:
    mix.counter.mood = "silent"

    def director(mix: Mix) -> None:
        if fits:
            mix.see(lambda line: line["held"] == "silent")
            mix.say("drop")

    status = mix.run(director, "--cup", "paper-150", size=size)
    assert status == (1 if fits else 2)
    if not fits:
        assert "more than the cup may hold" in mix.err


@pytest.mark.parametrize(
    ("cap", "size", "cup", "said"),
    [
        ("CAP:g:100:1:1", "101g", None, "give up to 100.0 g"),
        ("CAP:g:100:1:1", "95g", "paper-300", "give up to 93.0 g"),  # the cup's own 7 g
        ("CAP:g:100:1:1", "93g", "paper-300", None),
        ("CAP:g:100:1:1", "100g", None, None),
        ("CAP:kg:9000:1:4", "100g", None, None),  # more than the profile: the profile counts
    ],
)
def test_a_size_above_what_the_scale_itself_says(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    cap: str,
    size: str,
    cup: str | None,
    said: str | None,
) -> None:
    with bench(tmp_path, monkeypatch, tells=cap) as mix:

        def director(mix: Mix) -> None:
            if said is None:
                mix.place_cup()
                mix.say("drop")

        more = ("--cup", cup) if cup else ()
        status = mix.run(director, *more, size=size)
        if said is None:
            assert status == 1
            assert len(mix.rows()) == 1
        else:
            assert status == 2
            assert one_sentence(mix.err)
            assert f"size: '{size}' is more than the scale may carry; {said}" in mix.err
            assert mix.rows() == []


def test_the_scale_counts_by_more_than_its_figures_show(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A scale that shows 0.1 g but counts by 0.5 g says so; the tare keeps the larger."""
    with bench(tmp_path, monkeypatch, tells="CAP:g:2000:5:1") as mix:

        def director(mix: Mix) -> None:
            mix.place_cup()
            mix.say("drop")

        mix.run(director)
        with Journal.open(mix.record) as journal:
            (tared,) = [e.data for e in journal.entries() if e.kind == "tared"]
    assert tared["division_ug"] == 500_000


def test_an_unknown_resin(mix: Mix) -> None:
    assert_refused(mix, "'no-such' is no resin", "sample-36", resin="no-such")


@pytest.mark.parametrize(
    ("good", "wrong", "said"),
    [
        ("parts = 36", "parts = -36", ("parts", "-36")),
        ('drip_time = "8 s"', 'drip_time = "8 g"', ("drip_time", "8 g", "time")),
        ("parts = 100", "parts = ", ("my.toml",)),
        ('role = "hardener"', 'role = "glue"', ("role", "glue", "hardener")),
    ],
)
def test_a_wrong_profile_says_file_key_value_and_what_is_accepted(
    mix: Mix, good: str, wrong: str, said: tuple[str, ...]
) -> None:
    assert good in GOOD
    path = mix.tmp / "my.toml"
    path.write_text(GOOD.replace(good, wrong))
    assert_refused(mix, str(path), *said, resin=str(path))


@pytest.mark.parametrize("what", ["missing", "folder", "bytes"])
def test_a_profile_that_cannot_be_read(mix: Mix, what: str) -> None:
    path = mix.tmp / "my.toml"
    if what == "folder":
        path.mkdir()
    elif what == "bytes":
        path.write_bytes(b"\xff\xfe\x00" * 50)
    assert_refused(mix, str(path), resin=str(path))


def test_a_resin_that_is_not_confirmed(mix: Mix) -> None:
    assert_refused(mix, "is not confirmed", "cupside resin confirm", resin="sample-28")


def test_a_profile_edited_since_it_was_confirmed(mix: Mix) -> None:
    path = mix.tmp / "my.toml"
    path.write_text(GOOD)
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["resin", "confirm", str(path), "--ratio", "100:36", "--by", "weight"]) == 0
    path.write_text(GOOD.replace("parts = 36", "parts = 30"))
    assert_refused(mix, "is not confirmed", resin=str(path))


@pytest.mark.parametrize("what", ["text", "database", "folder", "no folder"])
def test_a_record_that_is_none(mix: Mix, what: str) -> None:
    before = b""
    if what == "text":
        mix.record.write_text("a letter")
    elif what == "database":
        with contextlib.closing(sqlite3.connect(mix.record)) as other, other:
            other.execute("CREATE TABLE letters (text)")
    elif what == "folder":
        mix.record.mkdir()
    else:
        mix.record = mix.tmp / "no-such-folder" / "record"
    if mix.record.is_file():
        before = mix.record.read_bytes()
    assert mix.run() == 2
    assert one_sentence(mix.err)
    assert str(mix.record) in mix.err or str(mix.record.parent) in mix.err
    if mix.record.is_file():
        assert mix.record.read_bytes() == before


@pytest.mark.parametrize("what", ["file", "folder", "unsearchable"])
def test_a_record_that_may_not_be_written(mix: Mix, what: str) -> None:
    folder = mix.tmp / "kept"
    folder.mkdir()
    record = folder / "record"
    if what == "file":
        Journal.open(record).close()
        record.chmod(0o444)
    folder.chmod(0o000 if what == "unsearchable" else 0o555)
    command = [
        *without_privileges(), sys.executable, "-m", "mixer", "mix", "--resin", "sample-36",
        "--size", "50g", "--port", "sim:", "--jsonl", "--record", str(record),
    ]  # fmt: skip
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=60)
    finally:
        folder.chmod(0o755)
    assert done.returncode == 2, done.stderr
    assert one_sentence(done.stderr)
    assert str(record) in done.stderr
