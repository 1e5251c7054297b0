"""The tables that find facts agree with the views, whatever comes, and after a rebuild."""

from __future__ import annotations

import tempfile
from collections import defaultdict
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from support.facts import fact, live, opened

from mixer.record.envelope import Entry
from mixer.record.journal import Journal
from mixer.record.mending import mend
from mixer.record.views import batch_rows

BATCH = st.integers(0, 4)
LOT = st.sampled_from(["R-1", "R-2", "", None])
ENTRIES = st.one_of(
    st.builds(
        lambda b, r, h, a: opened(b, resin_lot=r, hardener_lot=h, asked={"resin_lot": a}),
        BATCH,
        LOT,
        LOT,
        LOT,
    ),
    st.builds(live, BATCH),
    st.builds(lambda b, how: fact("ended", b, how=how), BATCH, st.sampled_from(["dropped", None])),
    st.builds(lambda b: fact("closed", b, how="used-up"), BATCH),
    st.builds(lambda b: fact("shared", b, cup=2, of=1, mass_ug=5), BATCH),
    st.builds(lambda b: fact("emptied", b, cup=2, how="used-up", left_ug=None), BATCH),
    st.builds(lambda b: fact("accepted", b, component=0, net_ug=5), BATCH),
    st.builds(
        lambda b, f, v: fact("corrected", b, field=f, value=v, reason="read again"),
        BATCH,
        st.sampled_from(["resin_lot", "hardener_lot", "layup", "outcome"]),
        LOT | st.sampled_from(["entered", "withdrawn"]),
    ),
    st.builds(lambda b: fact("entered", b, resin_lot="R-1"), BATCH),
)


OUTCOMES = ("open", "live", "closed", "dropped", "ended", "entered", "withdrawn")


@settings(max_examples=25, deadline=None)
@given(st.lists(st.lists(ENTRIES, max_size=6), max_size=6))
def test_they_find_what_the_views_tell(calls: list[list[Entry]]) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        Journal.open(Path(folder) / "record") as journal,
    ):
        for entries in calls:
            journal.append(entries)
        for _ in range(2):
            with Journal.read(journal.path) as reader:
                by_outcome = defaultdict(set)
                for row in batch_rows(reader.entries()):
                    by_outcome[row.outcome].add(row.batch)
                for outcome in (
                    "open",
                    "live",
                    "closed",
                    "dropped",
                    "ended",
                    "entered",
                    "withdrawn",
                ):
                    found = {e.batch for e in reader.entries(outcome=outcome)}
                    assert found == by_outcome[outcome]
                assert reader.misled() == ""
            mend(journal.path, fact("mended"))
