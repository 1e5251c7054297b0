"""``cupside mix --size kit`` as a process of its own: cloth in, a batch out."""

from __future__ import annotations

import contextlib
import io
import json
from pathlib import Path

from support.programs import Program

from mixer.cli import main
from mixer.plan.tags import Kit, payload


def test_a_kit_is_scanned_and_the_batch_is_of_it(tmp_path: Path) -> None:
    record = tmp_path / "record.cupside"
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        words = ["resin", "confirm", "sample-36", "--ratio", "100:36", "--by", "weight"]
        assert main(words) == 0
    mix = ["--resin", "sample-36", "--size=kit", "--port", "typed:", "--air=22degC"]
    bench = Program(*mix, "--record", str(record))
    bench.see(lambda line: "Scan the kits of the next plies" in line["say"])
    bench.say(f"kit {payload(Kit('rib 3', (1, 2), 0.2, 200.0))}")
    told = bench.see(lambda line: line["cue"] == "go")
    # 40 g of cloth, as much to apply and a 25th more for the cup: 41.6 g.
    assert told["say"].startswith("go takes 41.6 g for rib 3 plies 1-2. 40 g of dry cloth")
    bench.say("go")
    bench.see(lambda line: line["cue"] == "place")
    bench.say("go")
    resin = bench.see(lambda line: line["component"] == "resin")
    assert round(resin["target_g"] * 1.36, 1) == 41.6
    bench.say("drop", "drop")
    assert bench.end() == 1
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(["record", "show", "1", "--json", "--record", str(record)]) == 0
    row = json.loads(out.getvalue())["row"]
    assert row["cloth_g"] == 40
    assert (row["layup"], row["plies"], row["size_g"]) == ("rib 3", "1-2", 41.6)
