"""A fault of the program's own: one sentence, an end on record, and no dead face."""

from __future__ import annotations

from pathlib import Path

import pytest
from support.command import Mix, one_sentence

from mixer.app.bench.shop import Shop
from mixer.app.request import Request


@pytest.mark.parametrize("where", ["mixer.app.bench.batch.decide", "mixer.app.bench.paint.picture"])
def test_a_fault_in_mid_pour_ends_the_batch_with_a_sentence(
    mix: Mix, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    def director(mix: Mix) -> None:
        mix.pour_20_g()
        with monkeypatch.context() as broken:
            broken.setattr(where, lambda *_, **__: 1 / 0)
            mix.see(lambda line: line["stage"] == "ended")

    assert mix.run(director) == 1
    assert "ZeroDivisionError" in mix.last["say"]
    assert mix.err.strip() == mix.last["say"]
    (row,) = mix.rows()
    if "picture" in where:
        assert (row["outcome"], row["note"]) == (
            "interrupted",
            "program ended: the program itself failed",
        )


def test_a_fault_before_the_first_weight_ends_too(
    mix: Mix, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mixer.app.bench.bench.resolve", lambda _: 1 / 0)
    assert mix.run() == 1
    assert one_sentence(mix.err)
    assert "ZeroDivisionError in test_faults.py" in mix.err
    assert mix.rows() == []


def test_a_fault_in_a_command_is_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from mixer.cli import main

    monkeypatch.setattr("mixer.app.files.profiles.names", lambda _: 1 / 0)
    assert main(["resin", "list"]) == 1
    assert one_sentence(capsys.readouterr().err)


def test_a_bench_whose_record_failed_once_answers_the_next_request(tmp_path: Path) -> None:
    """A face that starts a batch after that must not wait for ever."""
    record = tmp_path / "record"
    record.write_text("not a record")
    shop = Shop(record)
    shop.start_up()
    shown = shop.wait(0, 10)  # the failure is known before the request comes
    assert "not a build record" in shown.say
    shop.start(Request("sample-36", "50g", "sim:"))
    while shop.exit_status() is None:
        shown = shop.wait(shop.picture().serial, 10)
    assert shop.exit_status() == 2
    assert "not a build record" in shown.say
    shop.stop("done")
