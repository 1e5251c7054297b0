"""The envelope: canonical bytes, the chain, and what is refused."""

from __future__ import annotations

import hashlib
import json
import struct
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.facts import fact, live, opened, poured

from mixer.record.chain import Row, follow
from mixer.record.envelope import GENESIS, Entry, RecordError, Sealed, read, seal

WHOLE = st.integers(-(2**53) + 1, 2**53 - 1)
TEXT = st.text(st.characters(exclude_categories=["Cs"]))
# Where JSON as Python writes it and RFC 8785 agree: keys that sort alike by code point
# and by UTF-16 unit (below the surrogates), and floats without an exponent or ".0".
PLAIN_TEXT = st.text(st.characters(max_codepoint=0xD7FF))
PLAIN_FLOAT = st.floats(1e-3, 1e9).filter(lambda x: x != int(x))


def values(texts: st.SearchStrategy[str], numbers: st.SearchStrategy[float]) -> Any:
    leaf = st.none() | st.booleans() | WHOLE | numbers | texts
    return st.recursive(
        leaf,
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(texts, inner, max_size=3),
        max_leaves=8,
    )


def entries(texts: st.SearchStrategy[str], numbers: st.SearchStrategy[float]) -> Any:
    return st.builds(
        Entry,
        kind=texts.filter(bool),
        data=st.dictionaries(texts, values(texts, numbers), max_size=4),
        at_ms=st.integers(0, 2**53 - 1),
        boot=texts,
        utc=st.just("2024-05-01T08:00:00.000Z"),
        batch=st.integers(0, 10**6),
        station=texts,
    )


ANY = entries(TEXT, st.floats(allow_nan=False, allow_infinity=False))


def sealed(facts: list[Entry]) -> list[Sealed]:
    chain: list[Sealed] = []
    for seq, entry in enumerate(facts, 1):
        chain.append(seal(entry, seq, chain[-1].hash if chain else GENESIS))
    return chain


def stored(chain: list[Sealed]) -> list[Any]:
    return [
        (f.seq, f.canonical, f.prev, f.hash, f.entry.batch, f.entry.kind.encode()) for f in chain
    ]


def first_bad(rows: list[Row]) -> int | None:
    return follow([rows]).bad


@given(st.lists(entries(PLAIN_TEXT, PLAIN_FLOAT), min_size=1, max_size=4))
def test_chain_is_sha256_over_an_independent_serialisation(facts: list[Entry]) -> None:
    """RFC 8785 sections 3.2.2 and 3.2.3; hashlib over json.dumps where both agree."""
    head = bytes(32)
    for one in sealed(facts):
        entry = one.entry
        plain = {
            "v": 1,
            "seq": one.seq,
            "batch": entry.batch,
            "station": entry.station,
            "boot": entry.boot,
            "at_ms": entry.at_ms,
            "utc": entry.utc,
            "kind": entry.kind,
            "data": entry.data,
        }
        text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        assert one.canonical == text.encode("utf-8")
        head = hashlib.sha256(head + text.encode("utf-8")).digest()
        assert one.hash == head


@given(ANY, st.integers(1, 2**53 - 1))
def test_a_fact_comes_back_as_it_was(entry: Entry, seq: int) -> None:
    assert read(seal(entry, seq, GENESIS).canonical) == (seq, entry)


@pytest.mark.parametrize(
    ("bits", "written"),
    [  # RFC 8785, appendix B (quoted from memory)
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("c340000000000000", "-9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("444b1ae4d6e2ef50", "1e+21"),
        ("3eb0c6f7a0b5ed8c", "9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555555", "333333333.3333333"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_numbers_are_written_as_the_standard_has_them(bits: str, written: str) -> None:
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    canonical = seal(fact("noted", x=number), 1, GENESIS).canonical
    assert b'"data":{"x":' + written.encode() + b"}" in canonical
    assert read(canonical)[1].data == {"x": number}


def test_keys_are_sorted_by_utf16_units() -> None:
    """RFC 8785 section 3.2.3, its example of sorting."""
    due = ["\r", "1", "\u0080", "ö", "€", "\U0001f600", "\ufb33"]
    canonical = seal(fact("noted", **dict.fromkeys(reversed(due))), 1, GENESIS).canonical
    assert list(read(canonical)[1].data) == due


@pytest.mark.parametrize(
    ("data", "where"),
    [
        ({"ratio_actual": float("nan")}, "data.ratio_actual is nan, not a finite number"),
        ({"a": [1, {"b": float("inf")}]}, "data.a[1].b is inf, not a finite number"),
        ({"net_ug": 2**53}, "data.net_ug is 9007199254740992"),
        ({"text": "\ud800"}, "data.text is text that holds half a character"),
        ({"\udfff": 1}, "a key of data is text that holds half a character"),
        ({"a": {1: 2}}, "data.a has the key 1"),
        ({"a": b"raw"}, "data.a is b'raw'"),
    ],
)
def test_what_cannot_be_stored_is_refused_by_name(data: dict[str, Any], where: str) -> None:
    with pytest.raises(RecordError) as refused:
        seal(Entry("accepted", data, 0, "", "2024-05-01T08:00:00.000Z", 1, ""), 1, GENESIS)
    assert refused.value.say.startswith(f"The fact “accepted” cannot be stored: {where}")
    assert refused.value.say.endswith(".")


def test_data_nested_beyond_reason_is_refused() -> None:
    deep: list[Any] = []
    for _ in range(100_000):
        deep = [deep]
    with pytest.raises(RecordError, match="nested too deeply"):
        seal(fact("noted", x=deep), 1, GENESIS)


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": ""},
        {"kind": "\ud800"},
        {"boot": None},
        {"station": 5},
        {"batch": -1},
        {"batch": True},
        {"at_ms": 1.5},
        {"at_ms": 2**53},
        {"utc": "2024-05-01T08:00:00Z"},
        {"utc": "2024-05-01 08:00:00.000Z"},
        {"data": []},
    ],
)
def test_wrong_fields_are_refused(wrong: dict[str, Any]) -> None:
    right = {"kind": "noted", "data": {}, "at_ms": 0, "boot": "", "batch": 0, "station": ""}
    right["utc"] = "2024-05-01T08:00:00.000Z"
    seal(Entry(**right), 1, GENESIS)
    with pytest.raises(RecordError, match=next(iter(wrong))):
        seal(Entry(**{**right, **wrong}), 1, GENESIS)


GOOD = seal(fact("noted", text="warm", x=1.5), 3, GENESIS).canonical


@pytest.mark.parametrize(
    "canonical",
    [
        b"",
        b"\xff",
        b"[]",
        b"3",
        b"{" * 100_000,
        GOOD.replace(b"1.5", b"NaN"),
        GOOD.replace(b"1.5", b"1e999"),
        GOOD.replace(b'"v":1', b'"v":2'),
        GOOD.replace(b'"v":1', b'"v":true'),
        GOOD.replace(b'"seq":3', b'"seq":0'),
        GOOD.replace(b'"seq":3', b'"seq":null'),
        GOOD.replace(b'"seq":3,', b""),
        GOOD.replace(b'"boot-1"', b"7"),
    ],
)
def test_bytes_that_are_no_fact_are_refused(canonical: bytes) -> None:
    assert canonical != GOOD
    with pytest.raises(RecordError) as refused:
        read(canonical)
    assert refused.value.say.endswith(".")


def test_every_single_bit_change_is_found() -> None:
    rows = stored(sealed([opened(), fact("noted", text="warm"), live()]))
    assert first_bad(rows) is None
    for place, row in enumerate(rows):
        for column in (1, 2, 3):  # the bytes, the hash before, the hash
            for bit in range(8 * len(row[column])):
                raw = bytearray(row[column])
                raw[bit // 8] ^= 1 << bit % 8
                changed = (*row[:column], bytes(raw), *row[column + 1 :])
                assert first_bad([*rows[:place], changed, *rows[place + 1 :]]) == place + 1


def test_a_changed_column_is_found() -> None:
    rows = stored(sealed(poured()))
    for column, other in enumerate([99, "text", b"", None, 2, "noted"]):
        changed = (*rows[3][:column], other, *rows[3][column + 1 :])
        assert first_bad([*rows[:3], changed, *rows[4:]]) == 4


@given(st.data())
def test_removal_reordering_and_insertion_are_found(data: st.DataObject) -> None:
    rows = stored(sealed([*poured(), live()]))
    one = data.draw(st.integers(0, len(rows) - 2))  # the tail can be cut off unseen
    assert first_bad(rows[:one] + rows[one + 1 :]) == one + 1

    # Closing the gap by counting on does not help: the bytes hold the place.
    renumbered = [(seq, *row[1:]) for seq, row in enumerate(rows[:one] + rows[one + 1 :], 1)]
    assert first_bad(renumbered) == one + 1

    two = data.draw(st.integers(one + 1, len(rows) - 1))
    swapped = list(rows)
    swapped[one] = (rows[one][0], *rows[two][1:])
    swapped[two] = (rows[two][0], *rows[one][1:])
    assert first_bad(swapped) == one + 1

    # A fact put in that fits to what is before it: the one behind it stands upon that too.
    before = rows[one - 1][3] if one else GENESIS
    forged = stored([seal(fact("noted", text="forged"), one + 1, before)])
    inserted = rows[:one] + forged + [(row[0] + 1, *row[1:]) for row in rows[one:]]
    assert first_bad(inserted) == one + 1


@given(entries(TEXT, st.floats(allow_nan=False, allow_infinity=False)))
def test_whatever_can_be_stored_is_found_in_its_place(entry: Entry) -> None:
    (row,) = stored(sealed([entry]))
    assert follow([[row]]).ok
    for wrong in ((*row[:4], row[4] + 1, row[5]), (*row[:5], row[5] + b"x")):
        assert follow([[wrong]]).bad == 1


@pytest.mark.parametrize("known", range(9))
def test_a_head_that_was_kept_shows_a_tail_cut_off_and_a_record_written_anew(known: int) -> None:
    rows = stored(sealed([*poured(), live()]))
    head = rows[known - 1][3] if known else GENESIS
    for left in range(9):
        found = follow([rows[:left]], head)
        assert found.ok is (left >= known)
        assert (found.facts, found.bad) == (left, None)
    anew = stored(sealed([opened(operator="CD"), *poured()[1:], live()]))
    assert follow([anew], head).ok is (known == 0)


def test_a_fact_that_says_another_place_is_found() -> None:
    """Whoever writes the hashes anew can still not leave a fact's own number wrong."""
    assert first_bad([(1, *stored([seal(fact("noted"), 5, GENESIS)])[0][1:])]) == 1


def test_an_envelope_of_another_version_is_named() -> None:
    with pytest.raises(RecordError, match="envelope of version 2; this program knows 1"):
        read(GOOD.replace(b'"v":1', b'"v":2'))
