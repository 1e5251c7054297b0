"""What a tag says is what it was given, and what is damaged says nothing."""

from __future__ import annotations

import string
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixer.app.files import jug_tag as profile
from mixer.app.files.toml_table import Table
from mixer.app.words import CARDS, OF_THE_WINDOW
from mixer.desk.keys import TEXT_MS, Keys
from mixer.desk.typed import Typing
from mixer.plan import tags
from mixer.plan.tags import (
    HEAD,
    LETTERS,
    LONGEST,
    SYMBOLS,
    Jug,
    Kit,
    Numbered,
    Tag,
    TagError,
    is_ours,
    payload,
    read,
)

KIT = Kit("left wing top", (1, 2, 3, 4, 7), 0.62, 300.0)
EACH = (KIT, Numbered(7), Jug("sample-36", "hardener"))

names = st.text(SYMBOLS[1:-1], min_size=1, max_size=14).filter(lambda name: name == name.strip())
kits = st.builds(
    Kit,
    names,
    st.sets(st.integers(1, 40), min_size=1, max_size=4).map(lambda found: tuple(sorted(found))),
    st.integers(1, 99_999).map(lambda cm2: cm2 / 1e4),
    st.integers(50, 20_000).map(lambda tenths: tenths / 10),
    st.sampled_from(["", "brush"]),
    st.just(0.05) | st.integers(1, 200).map(lambda tenths: tenths / 1000),
)
jugs = st.builds(Jug, names, names)


def fits(tag: Tag) -> bool:
    """Long names with many plies are refused (see the test of those)."""
    try:
        return bool(payload(tag))
    except TagError:
        return False


each = kits.filter(fits) | jugs | st.builds(Numbered, st.integers(1, 999))
typed = st.characters(min_codepoint=32, max_codepoint=126)


@given(each)
def test_what_is_read_is_what_was_written(tag: Tag) -> None:
    text = payload(tag)
    assert read(text) == read(f" {text.upper()}\n") == tag
    assert is_ours(text)


@given(st.floats(1e-4, 100), st.floats(5, 5000))
def test_figures_are_told_to_a_square_centimetre_and_a_tenth_of_a_gram(
    area_m2: float, cloth_g_m2: float
) -> None:
    kit = read(payload(Kit("rib", (1,), area_m2, cloth_g_m2)))
    assert isinstance(kit, Kit)
    assert kit.area_m2 == pytest.approx(area_m2, abs=0.51e-4)
    assert kit.cloth_g_m2 == pytest.approx(cloth_g_m2, abs=0.051)


# -- damage ------------------------------------------------------------------------------


def refused(text: str) -> bool:
    with pytest.raises(TagError) as caught:
        read(text)
    said = str(caught.value)
    return "\n" not in said and len(said) > 30


@pytest.mark.parametrize("tag", EACH, ids=lambda tag: type(tag).__name__)
def test_any_one_character_that_is_another_is_refused(tag: Tag) -> None:
    text, others = payload(tag), [c for c in map(chr, range(32, 127)) if not c.isupper()]
    for place, right in enumerate(text):
        for wrong in others:
            damaged = text[:place] + wrong + text[place + 1 :]
            if wrong != right and damaged.strip():
                with pytest.raises(TagError):
                    read(damaged)


@given(each, st.data())
def test_any_damage_of_one_place_is_refused(tag: Tag, data: st.DataObject) -> None:
    text = payload(tag)
    at = data.draw(st.integers(0, len(text) - 1))
    wrong = data.draw(typed.filter(lambda c: c.lower() != text[at] and not c.isspace()))
    assert refused(text[:at] + wrong + text[at + 1 :])  # another
    assert refused(text[:at] + text[at + 1 :])  # lost
    assert refused(text[:at] + wrong + text[at:])  # one too many
    swapped = text[:at] + text[at : at + 2][::-1] + text[at + 2 :]
    assert swapped == text or refused(swapped)
    assert at == 0 or refused(text[:at])  # the beginning, the end
    assert refused(text + text[: at + 1])


@given(st.text(typed, max_size=LONGEST))
def test_what_others_print_is_no_tag(text: str) -> None:
    assert refused(text)


@given(st.text(LETTERS, max_size=LONGEST))
def test_nor_is_what_only_looks_like_one(text: str) -> None:
    assert refused(HEAD + text)


def checked(body: str) -> str:
    return body + tags._check(body)


def test_a_good_check_alone_makes_no_tag() -> None:
    for told in (
        *("rib|1|0.620|300", "rib|1|.62|300", "rib|1,2|0.62|300", "rib|2-1|0.62|300", "rib"),
        *("rib|0|0.62|300", "rib|1|0|300", "rib|1|1e1|300", " rib|1|0.62|300", "rib|1|0.62|300|"),
        "rib|1|0.62|300\0x",
    ):
        assert refused(checked(f"{HEAD}ck{tags._written(told)}"))
    for version, end in (("c", "|8"), ("d", ""), ("d", "|5"), ("d", "|25"), ("d", "|8.0")):
        assert refused(checked(f"{HEAD}{version}k{tags._written(f'rib|1|0.62|300|{end}')}"))
    for kind, told in (("n", "07"), ("n", ""), ("j", "mine"), ("j", "|x"), ("b", "x"), ("k", "")):
        assert refused(checked(f"{HEAD}c{kind}{tags._written(told)}"))
    whole = payload(KIT)[:-8]
    for body in (HEAD, f"{HEAD}c", f"{HEAD}zk", f"{whole}b", f"{whole}yyy", whole + 12 * "bbb"):
        assert refused(checked(body))


def test_a_newer_tag_is_told_from_a_damaged_one() -> None:
    body = f"{HEAD}f" + payload(KIT)[len(HEAD) + 1 : -8]
    with pytest.raises(TagError, match="of version 3"):
        read(checked(body))
    with pytest.raises(TagError, match="did not come as it was printed"):
        read(body + payload(KIT)[-8:])


def test_the_check_is_crc_32() -> None:
    # Its usual check value, that of the digits 1 to 9 (ITU-T V.42 has the polynomial; the
    # value is from memory).
    assert zlib.crc32(b"123456789") == 0xCBF43926
    assert tags._check("123456789") == "".join(LETTERS[int(c, 16)] for c in "cbf43926")


# -- where it is typed -----------------------------------------------------------------------


def test_its_letters_lie_on_the_same_keys_of_three_keyboards() -> None:
    # The rows of letters of the layouts us, de and fr of xkeyboard-config.
    rows = (
        ("qwertyuiop", "asdfghjkl ", "zxcvbnm"),
        ("qwertzuiop", "asdfghjkl ", "yxcvbnm"),
        ("azertyuiop", "qsdfghjklm", "wxcvbn "),
    )
    keys = [
        {c: (row, at) for row, said in enumerate(one) for at, c in enumerate(said)} for one in rows
    ]
    same = {c for c in string.ascii_lowercase if len({one[c] for one in keys}) == 1}
    assert set(LETTERS) == same - set("aeiou")


@given(each, st.integers(0, TEXT_MS - 1))
def test_however_slowly_it_is_typed_it_is_one_card_and_nothing_else(tag: Tag, gap_ms: int) -> None:
    keys, figure, at_ms = Keys(), Typing(), 10_000
    for letter in payload(tag):
        at_ms += gap_ms
        assert not figure.character(letter, letter)
        assert keys.word(letter, letter, at_ms) is None
        keys.release(letter, at_ms)
    assert keys.word("Return", "", at_ms + 1) == ""
    assert keys.read == payload(tag)


@given(each)
def test_no_part_of_it_is_a_command_or_a_figure(tag: Tag) -> None:
    text = payload(tag)
    assert len(text) <= LONGEST == profile.LONGEST
    assert not set(text) & set(string.digits + " .,aeiou")
    assert all(set(card) & set("aeiou") for card in (*CARDS, *OF_THE_WINDOW))


@given(jugs)
def test_a_profile_takes_the_tag_of_its_own_jug_and_no_others(jug: Jug) -> None:
    table = Table("mine.toml", "", {"tag": payload(jug)})
    assert profile.jug_tag(table, jug.resin.upper(), jug.component) == payload(jug)
    for other in ((jug.resin, f"{jug.component}x"), (f"x{jug.resin}", jug.component)):
        with pytest.raises(ValueError, match="as cupside tags jugs tells it"):
            profile.jug_tag(table, *other)
    table = Table("mine.toml", "", {"tag": payload(jug)[:-1]})
    with pytest.raises(ValueError, match="as cupside tags jugs tells it"):
        profile.jug_tag(table, jug.resin, jug.component)


def test_a_numbered_tag_may_hang_on_a_jug() -> None:
    table = Table("mine.toml", "", {"tag": payload(Numbered(7))})
    assert profile.jug_tag(table, "mine", "resin") == payload(Numbered(7))


# -- what cannot be written --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tag", "says"),
    [
        (Numbered(0), "1 to 999"),
        (Numbered(1000), "1 to 999"),
        (Kit("", (1,), 1, 300), "cannot be a tag's name"),
        (Kit(" rib", (1,), 1, 300), "cannot be a tag's name"),
        (Kit("flügel", (1,), 1, 300), "cannot be a tag's name"),
        (Kit("a|b", (1,), 1, 300), "cannot be a tag's name"),
        (Kit("x" * 40, (1,), 1, 300), "give a shorter name"),
        (Kit("rib", (), 1, 300), "plies none; give their numbers"),
        (Kit("rib", (2, 1), 1, 300), "plies 2, 1; give their numbers rising"),
        (Kit("rib", (1, 1), 1, 300), "rising"),
        (Kit("rib", (0, 1), 1, 300), "no tag tells ply 0; give plies from 1 to 999"),
        (Kit("rib", (1000,), 1, 300), "no tag tells ply 1000; give plies from 1 to 999"),
        (Kit("rib", (1,), 0, 300), "1 cm2 to 100 m2"),
        (Kit("rib", (1,), float("nan"), 300), "1 cm2 to 100 m2"),
        (Kit("rib", (1,), 101, 300), "1 cm2 to 100 m2"),
        (Kit("rib", (1,), 1, 4), "5 to 5000 g/m2"),
        (Kit("rib", (1,), 1, float("inf")), "5 to 5000 g/m2"),
        (Kit("rib", (1,), 1, 300, "", 0), "above 0, up to 0.2"),
        (Kit("rib", (1,), 1, 300, "", 0.21), "above 0, up to 0.2"),
        (Jug("harz-ö", "resin"), "cannot be a tag's name"),
    ],
)
def test_what_no_tag_can_say_is_refused_with_what_can_be_said(tag: Tag, says: str) -> None:
    with pytest.raises(TagError, match=says) as caught:
        payload(tag)
    assert "\n" not in str(caught.value)
