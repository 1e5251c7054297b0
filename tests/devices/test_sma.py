"""The open scale protocol, both ways.

Source of the columns, letters and the example: SMA SCP-0499, "Standard Scale Serial
Communication Protocol", levels 1 and 2 (1999, modified 2005).
"""

from __future__ import annotations

from fractions import Fraction

import pint
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from devices.dialects.sma import (
    DAMAGED,
    DASHES,
    ESC,
    LONGEST,
    UNKNOWN,
    Command,
    CommandReader,
    Framer,
    Sma,
    Weight,
    decode_capacity,
    decode_diagnosis,
    decode_tare,
    decode_weight,
    encode_command,
    encode_diagnosis,
    encode_information,
    encode_weight,
    micrograms,
)
from devices.readings import UG_PER_UNIT, About, Fault, FaultKind, Reading

UNITS = list(UG_PER_UNIT)

figures = st.builds(
    lambda minus, whole, part: minus + whole + part,
    st.sampled_from(["", "-"]),
    st.integers(0, 9999).map(str),
    st.one_of(st.just(""), st.just("."), st.from_regex(r"\.[0-9]{1,4}", fullmatch=True)),
)
spelt = st.sampled_from(UNITS).flatmap(lambda u: st.sampled_from([u, u.upper(), u.title()]))
weights = st.builds(
    Weight,
    text=figures,
    unit=spelt,
    status=st.sampled_from(["Z", " "]),
    net=st.sampled_from(["G", "N", "g", "n"]),
    moving=st.booleans(),
    range=st.sampled_from("123 "),
)
troubled = st.one_of(
    st.builds(Weight, st.just(DASHES), spelt, st.sampled_from(["E", "I", "T"])),
    st.builds(Weight, figures, spelt, st.sampled_from(["O", "U"])),
)
pads = st.sampled_from([" ", "_"])


def cut(data: bytes, where: list[int]) -> list[bytes]:
    ends = sorted(w % (len(data) + 1) for w in where)
    return [
        data[a:b] for a, b in zip([0, *ends], [*ends, len(data)], strict=True)
    ]  # some are empty, as portions may be


# --- one weight ------------------------------------------------------------------


def test_the_standards_own_example() -> None:
    """SMA SCP-0499: a stable gross 5.025 lb."""
    frame = b"\n" + b" " + b"1" + b"G" + b" " + b" " + b"     5.025" + b"lb " + b"\r"
    (said,) = Sma().feed(frame)
    # 5.025 lb by the definition of the pound, as the library pint has it
    exact = pint.UnitRegistry(non_int_type=Fraction).Quantity(Fraction("5.025"), "lb").to("ug")
    assert said == Reading(
        mass_ug=round(exact.magnitude),
        text="5.025 lb",
        unit="lb",
        division_ug=453_592,
        still=True,
    )
    assert encode_weight(Weight("5.025", "lb")) == frame


@pytest.mark.parametrize("unit", UNITS)
def test_units_agree_with_pint(unit: str) -> None:
    """lib pint: pound, ounce and carat by definition."""
    registry = pint.UnitRegistry(non_int_type=Fraction)
    name = {"ct": "carat"}.get(unit, unit)
    assert registry.Quantity(Fraction(1), name).to("ug").magnitude == UG_PER_UNIT[unit]


@given(weights, pads)
def test_a_weight_survives_the_way_there_and_back(weight: Weight, pad: str) -> None:
    frame = encode_weight(weight, pad)
    assert decode_weight(frame[1:-1].decode()) == weight
    (said,) = Sma().feed(frame)
    assert isinstance(said, Reading)
    assert said.mass_ug == round(Fraction(weight.text) * Fraction(UG_PER_UNIT[weight.unit.lower()]))
    assert said.text == f"{weight.text} {weight.unit}"
    assert said.unit == weight.unit.lower()
    assert said.still is not weight.moving
    assert said.scale_tared is (weight.net in "Nn")


@given(troubled, pads)
def test_trouble_survives_and_is_never_a_weight(weight: Weight, pad: str) -> None:
    frame = encode_weight(weight, pad)
    assert decode_weight(frame[1:-1].decode()) == weight
    (said,) = Sma().feed(frame)
    kinds = {"O": FaultKind.OVERLOAD, "U": FaultKind.UNDERLOAD}
    assert isinstance(said, Fault)
    assert said.kind is kinds.get(weight.status, FaultKind.SCALE_ERROR)


@pytest.mark.parametrize("shown", [b"          ", b"----------", b"  ------  ", b"__________"])
@pytest.mark.parametrize(("status", "kind"), [(b"O", "overload"), (b"U", "underload")])
def test_over_and_under_need_no_figure(shown: bytes, status: bytes, kind: str) -> None:
    (said,) = Sma().feed(b"\n" + status + b"1G  " + shown + b"g  \r")
    assert isinstance(said, Fault)
    assert said.kind == kind


@pytest.mark.parametrize("unit", ["  g", "__g", " g ", " lb", "_kg"])
def test_a_unit_set_to_the_right_is_read_once_it_is_said_twice(unit: str) -> None:
    scale, frame = Sma(), f"\n 1G       12.30{unit}\r".encode()
    first, second, third = scale.feed(3 * frame)
    assert isinstance(first, Fault)
    assert (
        second
        == third
        == Sma().feed(frame.replace(unit.encode(), f"{unit.strip(' _'):3}".encode()))[0]
    )
    other = b"\n 1G       12.30kg \r"
    assert [type(said) for said in scale.feed(other + frame + frame)] == [Reading, Fault, Reading]


@pytest.mark.parametrize(
    ("figure", "unit", "mass_ug", "division_ug"),
    [
        ("      56.1", "g  ", 56_100_000, 100_000),
        ("______56.1", "g__", 56_100_000, 100_000),
        ("     -56.1", "G  ", -56_100_000, 100_000),
        ("-     56.1", "g  ", -56_100_000, 100_000),
        ("-_____56.1", "g  ", -56_100_000, 100_000),
        ("  -00056.1", "g  ", -56_100_000, 100_000),
        ("      -0.0", "g  ", 0, 100_000),
        ("       56.", "g  ", 56_000_000, 1_000_000),
        ("        .5", "kg ", 500_000_000, 100_000_000),
        ("0000000001", "mg ", 1_000, 1_000),
        ("       1.5", "OZ ", 42_524_285, 2_834_952),  # 42 524 284.6875; 2 834 952.3125
        ("         8", "oz ", 226_796_185, 28_349_523),  # half a pound, exactly
        ("      2.50", "ct ", 500_000, 2_000),
        (".000000001", "mg ", 0, 1),  # a step is never nothing
    ],
)
def test_figures(figure: str, unit: str, mass_ug: int, division_ug: int) -> None:
    (said,) = Sma().feed(f"\n 1G  {figure}{unit}\r".encode())
    assert isinstance(said, Reading)
    assert (said.mass_ug, said.division_ug) == (mass_ug, division_ug)


def test_a_half_microgram_goes_to_the_even_one() -> None:
    assert [micrograms(f, "mg") for f in ("0.0005", "0.0015", "-0.0025")] == [0, 2, -2]


@pytest.mark.parametrize(
    ("columns", "why"),
    [
        ((" 1G  ", "     56.1", "g  "), "17 characters"),
        ((" 1G  ", "       56.1", "g  "), "19 characters"),
        ((" ", "", ""), "it has 1 character, not 18"),
        ((" 1G  ", "     56.1 ", "g  "), "no weight"),
        ((" 1G  ", "      56,1", "g  "), "no weight"),
        ((" 1G  ", "     5 6.1", "g  "), "no weight"),
        ((" 1G  ", "     5.6.1", "g  "), "no weight"),
        ((" 1G  ", "     +56.1", "g  "), "no weight"),
        ((" 1G  ", "    --56.1", "g  "), "no weight"),
        ((" 1G  ", "     56.1-", "g  "), "no weight"),
        ((" 1G  ", "          ", "g  "), "no weight"),
        ((" 1G  ", "        -.", "g  "), "no weight"),
        ((" 1G  ", "      1e12", "g  "), "no weight"),
        ((" 1G  ", "       nan", "g  "), "no weight"),
        ((" 1G  ", "----------", "g  "), "no weight"),
        ((" 1G  ", "      56.1", "st "), "accepted are mg, g, kg, lb, oz, ct"),
        ((" 1G  ", "      56.1", "gr "), "accepted are mg, g, kg, lb, oz, ct"),
        ((" 1G  ", "      56.1", "   "), "columns"),
        ((" 1G  ", "      56.1", " g "), "columns"),
        ((" 1G  ", "      56.1", "g g"), "columns"),
        (("X1G  ", "      56.1", "g  "), "columns"),
        ((" xG  ", "      56.1", "g  "), "columns"),
        ((" 1X  ", "      56.1", "g  "), "columns"),
        ((" 1GX ", "      56.1", "g  "), "columns"),
        ((" 1T  ", "      56.1", "g  "), "tare"),
        ((" 1G  ", "      5\x071", "g  "), "no whole frame"),
    ],
)
def test_columns_that_make_no_sense(columns: tuple[str, str, str], why: str) -> None:
    body = "".join(columns)
    (said,) = Sma().feed(b"\n" + body.encode() + b"\r")
    assert isinstance(said, Fault)
    assert said.kind is FaultKind.NONSENSE
    assert why in said.say
    assert said.text == body.replace("\x07", "\\x07")
    assert said.text in said.say


def test_noise_is_told_in_a_short_sentence_that_says_what_to_look_at() -> None:
    """As a scale sounds that is set to another speed: bytes without end, none of them text."""
    said = [s for _ in range(50) for s in Sma().feed(bytes([0xF0, 0x80, 0, 0x1C]) * 30)]
    for fault in said:
        assert isinstance(fault, Fault)
        assert len(fault.say) < 150
        assert "speed and parity" in fault.say
    assert said


@given(
    weights,
    st.integers(0, 19),
    st.one_of(st.none(), st.integers(0, 255)),
    st.sampled_from(["replace", "drop", "double", "insert"]),
)
def test_one_wrong_byte(weight: Weight, at: int, byte: int | None, how: str) -> None:
    """One byte wrong: no weight, or the same one, or the one thing nobody can notice.

    That one thing: within the weight's columns a character became another that
    leaves a number, or a unit's letter became another unit's.
    """
    frame = encode_weight(weight)
    new = b"" if byte is None else bytes([byte])
    broken = {
        "replace": frame[:at] + new + frame[at + 1 :],
        "drop": frame[:at] + frame[at + 1 :],
        "double": frame[:at] + frame[at : at + 1] + frame[at:],
        "insert": frame[:at] + (new or b"0") + frame[at:],
    }[how]
    (true,) = Sma().feed(frame)
    assert isinstance(true, Reading)
    for said in Sma().feed(broken):
        if not isinstance(said, Reading):
            continue
        # Its whole frame stands in what came: nothing was guessed or put together.
        assert len(broken.split(b"\n")[-1].split(b"\r")[0]) == 18
        if how == "replace" and at > 5:
            continue  # a figure or a unit; the two tests below say what is left
        assert (said.mass_ug, said.unit) == (true.mass_ug, true.unit)


@given(weights.filter(lambda w: w.unit.lower() != "mg"), st.integers(16, 18), st.integers(0, 255))
@example(Weight("5.0", "kg"), 16, ord(" "))  # ` g ` would be a thousandth of it
def test_a_unit_never_becomes_another_by_one_byte_save_kg_and_mg(
    weight: Weight, at: int, byte: int
) -> None:
    frame = bytearray(encode_weight(weight))
    assume(not (weight.unit.lower() == "kg" and at == 16 and bytes([byte]) in b"mM"))
    frame[at] = byte
    for said in Sma().feed(bytes(frame)):
        assert not isinstance(said, Reading) or said.unit == weight.unit.lower()


@given(weights, st.integers(0, 3))
@example(Weight("56.1", "g"), 0)  # `56. ` would be 56
def test_a_figures_end_is_never_blanked_unnoticed(weight: Weight, back: int) -> None:
    frame = bytearray(encode_weight(weight))
    assume(back < len(weight.text) - 1)
    frame[15 - back] = ord(" ")
    (said,) = Sma().feed(bytes(frame))
    if isinstance(said, Reading):  # only the first character of all may go unnoticed...
        assert weight.text.startswith("-")  # ...or a blank after a minus, as some pad


# --- the stream ------------------------------------------------------------------

noise = st.binary(max_size=200)
frames = st.one_of(
    weights.map(encode_weight),
    troubled.map(encode_weight),
    st.sampled_from([UNKNOWN, DAMAGED, b"\nEND:\r", b"\n\r", b"\r", b"\n    \r", b"\nRE  \r"]),
    noise,
)
streams = st.lists(frames, max_size=8).map(b"".join)


@given(streams, st.lists(st.integers(0, 5000), max_size=20), st.booleans())
def test_portions_do_not_matter(stream: bytes, where: list[int], telling: bool) -> None:
    whole, portioned = Sma(), Sma()
    if telling:
        whole.ask_about()
        portioned.ask_about()
    expected = whole.feed(stream)
    assert [said for part in cut(stream, where) for said in portioned.feed(part)] == expected
    assert portioned.follow_up() == whole.follow_up()


@given(streams)
def test_a_reading_needs_a_whole_valid_frame(stream: bytes) -> None:
    """An independent look: a reading for each LF..CR whose body decodes, no other."""
    expected = 0
    for piece in stream.split(b"\n")[1:]:
        body, cr, _ = piece.partition(b"\r")
        if cr and len(body) == 18 and body.isascii():
            weight = decode_weight(body.decode())
            expected += isinstance(weight, Weight) and weight.net != "T" and weight.status in "Z "
    said = Sma().feed(stream)
    assert sum(isinstance(s, Reading) for s in said) == expected


@given(st.binary(max_size=2000))
def test_noise_never_raises_and_is_told_in_print(stream: bytes) -> None:
    for said in Sma().feed(stream):
        assert isinstance(said, Fault)
        assert said.text.isascii()
        assert said.text.isprintable() or said.text == ""
        assert said.say.endswith(".")


@given(noise, weights)
def test_after_any_noise_the_next_frame_is_read(stream: bytes, weight: Weight) -> None:
    *_, last = Sma().feed(stream + encode_weight(weight))
    assert isinstance(last, Reading)


def test_memory_is_bounded_and_too_long_a_frame_is_nonsense() -> None:
    framer = Framer()
    found = framer.feed(b"\n" + b"5" * 10_000)
    assert {len(body) for body, _ in found} == {LONGEST}
    assert not any(whole for _, whole in found)
    assert len(framer._held) < LONGEST
    scale = Sma()
    said = scale.feed(b"\n" + b"5" * LONGEST + b" 1G        56.1g  \r")
    assert [s.kind for s in said if isinstance(s, Fault)] == [FaultKind.NONSENSE]
    # what followed in the same frame was no frame of its own; the next one is
    *_, last = scale.feed(b"\n 1G        56.1g  \r")
    assert isinstance(last, Reading)


def test_who_joins_in_the_middle_hears_no_nonsense() -> None:
    said = Sma().feed(b"  56.1g  \r\n 1G        56.1g  \r")
    assert [type(s) for s in said] == [Reading]


def test_a_frame_cut_off_by_the_next_is_told_and_the_next_is_read() -> None:
    said = Sma().feed(b"\n 1G        5\n 1G        56.1g  \r")
    assert [type(s) for s in said] == [Fault, Reading]


def test_refusal_and_damage() -> None:
    refused, damaged = Sma().feed(UNKNOWN + DAMAGED)
    assert isinstance(refused, Fault)
    assert refused.kind is FaultKind.REFUSED
    assert isinstance(damaged, Fault)
    assert damaged.kind is FaultKind.NONSENSE
    assert "arrived damaged" in damaged.say


def test_restart_forgets_half_a_frame() -> None:
    scale = Sma()
    assert scale.feed(b"\n 1G     ") == []
    scale.restart()
    assert [type(s) for s in scale.feed(b"\n 1G        56.1g  \r")] == [Reading]


# --- asking ----------------------------------------------------------------------


@pytest.mark.parametrize(("ask", "sent", "repeats"), [("W", b"\nW\r", False),
                         ("P", b"\nP\r", False), ("R", b"\nR\r", True)])  # fmt: skip
def test_asking(ask: str, sent: bytes, repeats: bool) -> None:
    scale = Sma(ask)  # type: ignore[arg-type]
    assert scale.ask() == sent
    assert scale.repeats is repeats


def test_another_way_of_asking_is_refused() -> None:
    with pytest.raises(ValueError, match="accepted are W, P and R"):
        Sma("X")  # type: ignore[arg-type]


def tell(scale: Sma, lines: dict[bytes, list[bytes]]) -> tuple[list[object], list[bytes]]:
    """Let a scale that has these lines answer until the host asks no more."""
    said: list[object] = []
    asked = [scale.ask_about()]
    while asked[-1]:
        waiting = lines.get(asked[-1], [])
        said += scale.feed(waiting.pop(0) if waiting else UNKNOWN)
        asked.append(scale.follow_up())
    return said, asked[:-1]


def test_information_line_by_line() -> None:
    lines = {
        b"\nI\r": [encode_information("SMA", "2/1.0")],
        b"\nN\r": [
            encode_information("TYP", "S"),
            encode_information("CAP", "g  :500:1:1"),
            encode_information("CAP", "kg:2:1:3"),
            encode_information("CAP", "g:2000:1:0"),
            encode_information("CMD", "WPRTCIN"),
            encode_information("END"),
        ],
    }
    said, asked = tell(Sma(), lines)
    text = "SMA:2/1.0; TYP:S; CAP:g  :500:1:1; CAP:kg:2:1:3; CAP:g:2000:1:0; CMD:WPRTCIN"
    # of two ranges: the most it can bear, the coarsest step; of each unit its own
    steps = (("g", 1_000_000), ("kg", 1_000_000))
    assert said == [About(2_000_000_000, steps, text)]
    assert asked == [b"\nI\r"] + [b"\nN\r"] * 6


def test_a_level_1_scale_is_asked_the_older_way() -> None:
    lines = {
        b"\nA\r": [encode_information("SMA", "1/1.0")],
        b"\nB\r": [encode_information("MOD", "an invented one"), encode_information("END")],
    }
    said, asked = tell(Sma(), lines)
    assert said == [About(None, (), "SMA:1/1.0; MOD:an invented one")]
    assert asked == [b"\nI\r", b"\nA\r", b"\nB\r", b"\nB\r"]


def test_a_scale_that_knows_neither_says_nothing_of_itself() -> None:
    said, asked = tell(Sma(), {})
    assert said == [About(None, (), "")]
    assert asked == [b"\nI\r", b"\nA\r"]


def test_information_without_an_end_ends() -> None:
    endless = {b"\nI\r": [encode_information("SMA", "2/1.0")],
               b"\nN\r": [encode_information("CMD", "W")] * 1000}  # fmt: skip
    said, asked = tell(Sma(), endless)
    assert len(said) == 1
    assert len(asked) < 50


def test_asking_for_a_weight_gives_information_up() -> None:
    scale = Sma()
    scale.ask_about()
    scale.feed(encode_information("SMA", "2/1.0"))
    scale.ask()
    assert scale.follow_up() == b""
    assert scale.feed(encode_information("CAP", "g:500:1:1")) == []
    assert scale.follow_up() == b""


@pytest.mark.parametrize("line", ["CAP:g:500:1", "CAP:st:500:1:1", "CAP:g:-5:1:1",
                         "CAP:g:0:1:1", "CAP:g:500:0:1", "CAP:::::", "TYP:S"])  # fmt: skip
def test_a_capacity_that_makes_no_sense_is_none(line: str) -> None:
    assert decode_capacity(line) is None


@given(memory=st.booleans(), eeprom=st.booleans(), calibration=st.booleans())
def test_diagnosis(memory: bool, eeprom: bool, calibration: bool) -> None:
    frame = encode_diagnosis(memory=memory, eeprom=eeprom, calibration=calibration)
    ill = decode_diagnosis(frame[1:-1].decode())
    assert ill == [
        name
        for name, is_ill in [("memory", memory), ("EEPROM", eeprom), ("calibration", calibration)]
        if is_ill
    ]
    said = Sma().feed(frame)
    assert [s.kind for s in said if isinstance(s, Fault)] == [FaultKind.SCALE_ERROR] * bool(ill)


# --- the scale's side ------------------------------------------------------------

commands = st.builds(
    Command,
    st.sampled_from("WHPQRSZTMCUDABINX"),
    st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), max_size=30),
) | st.just(Command(chr(ESC)))


@given(st.lists(commands, max_size=6), st.lists(st.integers(0, 500), max_size=8))
def test_commands_survive_in_any_portions(sent: list[Command], where: list[int]) -> None:
    reader = CommandReader()
    stream = b"".join(encode_command(c.name, c.argument) for c in sent)
    assert [c for part in cut(stream, where) for c in reader.feed(part)] == sent


@given(st.binary(max_size=500), st.lists(st.integers(0, 500), max_size=8))
def test_any_bytes_are_commands_or_damage(stream: bytes, where: list[int]) -> None:
    found = CommandReader().feed(stream)
    reader = CommandReader()
    assert [c for part in cut(stream, where) for c in reader.feed(part)] == found
    for command in found:
        assert command.damaged or command.name == chr(ESC) or command.name.isalpha()


@pytest.mark.parametrize("stream", [b"\n\r", b"\n5\r", b"\nW\x80\r", b"\nW\n", b"\n" + b"W" * 90])
def test_a_damaged_command_is_told(stream: bytes) -> None:
    (command,) = CommandReader().feed(stream)
    assert command.damaged


@given(figures, st.sampled_from([*UNITS, ""]))
def test_a_tare_with_a_weight(figure: str, unit: str) -> None:
    (command,) = CommandReader().feed(encode_command("T", f"{figure:>10}{unit:<3}"))
    assert decode_tare(command.argument) == (figure, unit)


@pytest.mark.parametrize(
    "weight",
    [
        Weight("12345678901", "g"),
        Weight("1", "st"),
        Weight("one", "g"),
        Weight(" 1", "g"),
        Weight("1", "g", status="X"),  # type: ignore[arg-type]
        Weight("1", "g", range="12"),
    ],
)
def test_what_fits_no_frame_is_not_sent(weight: Weight) -> None:
    with pytest.raises(ValueError, match="does not fit"):
        encode_weight(weight)
