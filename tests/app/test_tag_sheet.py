"""What is drawn can be read: by a library that knows nothing of the one that draws."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from mixer.app.sentence import NotDone
from mixer.app.tags import tag_sheet
from mixer.app.tags.tag_cards import Card, command_cards, kit_card, numbered_cards
from mixer.app.tags.tag_sheet import CARD_MM, COLUMNS, DPI, PAPERS, ROWS, pages, write
from mixer.plan.tags import Kit, payload, read

MM = 25.4 / DPI
WIDEST = Kit("horizontal stabiliser-left", (1, 3), 1.25, 123.4)


def seen(picture: Image.Image) -> list[zxingcpp.Barcode]:
    return zxingcpp.read_barcodes(picture.convert("L"), formats=zxingcpp.BarcodeFormat.QRCode)


def codes(picture: Image.Image) -> dict[tuple[int, int], str]:
    """What each code says, by the row and the column of its card."""
    wide, tall = picture.width * MM, picture.height * MM
    left, top = (wide - COLUMNS * CARD_MM[0]) / 2, (tall - ROWS * CARD_MM[1]) / 2
    found = {}
    for code in seen(picture):
        at = code.position.top_left
        row, column = (at.y * MM - top) // CARD_MM[1], (at.x * MM - left) // CARD_MM[0]
        found[int(row), int(column)] = code.text
    return found


def grid(cards: list[Card]) -> dict[tuple[int, int], str]:
    return {divmod(at, COLUMNS): card.code for at, card in enumerate(cards)}


def test_a_png_of_cards_reads_as_it_was_meant(tmp_path: Path) -> None:
    cards = command_cards() + numbered_cards(range(1, 13))
    cards = cards[:12]
    assert write(cards, tmp_path / "cards.png", "a4", "") == 1
    with Image.open(tmp_path / "cards.png") as sheet:
        assert codes(sheet) == grid(cards)
        assert (sheet.width * MM, sheet.height * MM) == pytest.approx((210, 297), abs=0.1)
        assert sheet.info["dpi"] == pytest.approx((DPI, DPI), abs=0.1)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_pdf_of_two_pages_reads_as_it_was_meant(tmp_path: Path, paper: str) -> None:
    cards = [*numbered_cards(range(1, 13)), kit_card(WIDEST)]
    assert write(cards, tmp_path / "tags.pdf", paper, "") == 2
    with pypdfium2.PdfDocument(tmp_path / "tags.pdf") as sheet:
        drawn = [page.render(scale=DPI / 72).to_pil() for page in sheet]
        points = [page.get_size() for page in sheet]
    assert [codes(page) for page in drawn] == [grid(cards[:12]), grid(cards[12:])]
    assert points[0] == pytest.approx([mm / 25.4 * 72 for mm in PAPERS[paper]], abs=0.3)


@pytest.mark.parametrize("count", [13, 30])
def test_a_png_has_its_pages_one_under_another(tmp_path: Path, count: int) -> None:
    cards = numbered_cards(range(1, count + 1))
    drawn = pages(cards, "a4", "")
    assert write(cards, tmp_path / "tags.png", "a4", "") == len(drawn) == -(-count // 12)
    with Image.open(tmp_path / "tags.png") as sheet:
        tall = sheet.height // len(drawn)
        for at, page in enumerate(drawn):
            part = sheet.crop((0, at * tall, sheet.width, (at + 1) * tall))
            assert (part.tobytes(), part.size) == (page.tobytes(), page.size)
            assert codes(part) == grid(cards[12 * at : 12 * at + 12])
        assert sheet.info["dpi"] == pytest.approx((DPI, DPI), abs=0.1)  # and so as large in print
        assert {code.text for code in seen(sheet)} == {card.code for card in cards}


kits = st.builds(
    Kit,
    st.from_regex("[a-z0-9]{1,7}( [a-z0-9-]{1,7})?", fullmatch=True),
    st.sets(st.integers(1, 30), min_size=1, max_size=4).map(lambda found: tuple(sorted(found))),
    st.integers(1, 99_999).map(lambda cm2: cm2 / 1e4),
    st.integers(50, 20_000).map(lambda tenths: tenths / 10),
)


@settings(max_examples=3, deadline=None)
@given(st.lists(kits, min_size=12, max_size=12))
def test_ply_kits_are_read_off_the_sheet_with_all_that_they_tell(given_kits: list[Kit]) -> None:
    (page,) = pages([kit_card(kit) for kit in given_kits], "letter", "")
    found = codes(page)
    assert [read(found[divmod(at, COLUMNS)]) for at in range(12)] == given_kits


def test_a_code_with_a_blot_on_it_still_reads() -> None:
    # ISO/IEC 18004: level Q restores some 25 % of the codewords.
    (page,) = pages([kit_card(WIDEST)], "a4", "")
    where = seen(page)[0].position
    size = where.bottom_right.x - where.top_left.x
    x, y = where.top_left.x + 0.45 * size, where.top_left.y + 0.45 * size
    ImageDraw.Draw(page).rectangle((x, y, x + size / 4, y + size / 4), fill=1)
    assert [code.text for code in seen(page)] == [payload(WIDEST)]


FULL = kit_card(WIDEST, "a step with a long name to it", "uni-tape-650 0 deg, bid-300 45 deg")


@pytest.mark.parametrize(
    "card", [command_cards()[0], kit_card(WIDEST), FULL], ids=["command", "widest", "full"]
)
def test_code_and_words_keep_to_their_places(card: Card) -> None:
    (page,) = pages([card], "a4", "")
    left, top = (210 - COLUMNS * CARD_MM[0]) / 2, (297 - ROWS * CARD_MM[1]) / 2
    inside = (left + 0.5, top + 0.5, left + CARD_MM[0] - 0.5, top + CARD_MM[1] - 0.5)
    ink = Image.eval(page.crop([round(mm / MM) for mm in inside]).convert("L"), lambda c: 255 - c)
    beside = round((CARD_MM[1] - 1) / MM)  # where the words begin
    code, words = ink.crop((0, 0, beside, ink.height)), ink.crop((beside, 0, *ink.size))
    code_box, words_box = code.getbbox(), words.getbbox()
    assert code_box is not None
    assert words_box is not None
    position = seen(page)[0]
    modules = round((code_box[2] - code_box[0]) / _dot(code))
    assert modules in range(21, 58, 4)  # ISO/IEC 18004: 17 + 4 times the version
    quiet = 4 * _dot(code)  # ISO/IEC 18004
    assert min(code_box[:2]) >= quiet
    assert ink.height - code_box[3] >= quiet
    assert beside + words_box[0] - code_box[2] >= quiet
    # Nothing runs over the edge, nor down into the next card.
    assert words_box[2] < words.width
    below = round((top + CARD_MM[1]) / MM) + 3
    next_card = page.crop((0, below, page.width, below + round(30 / MM)))
    assert next_card.convert("L").getextrema() == (255, 255)
    assert words_box[3] < words.height
    assert position.text == card.code
    assert _dot(code) * MM > 0.5  # millimetres a module, well above what a scanner resolves


def _dot(code: Image.Image) -> int:
    """The side of a module in dots: a finder pattern has seven in a row."""
    left, top = code.getbbox()[:2]  # type: ignore[index]
    run = next(at for at in range(left, code.width) if not code.getpixel((at, top)))
    return (run - left) // 7


def test_the_large_word_can_be_read_at_arms_length() -> None:
    # Practice: a letter is read easily at 200 times its height; 3.5 mm is 0.7 m.
    for title in (WIDEST.name, "hardener", "go", "used up"):
        high = CARD_MM[1] - 4 * 1.5 - 3 * 1.3 * 4.6  # above three lines of words
        size = tag_sheet._title(tag_sheet._broken(title, 49.5, high), 49.5, high)
        box = tag_sheet._font(size).getbbox("x")
        assert (box[3] - box[1]) * MM > 3.5 * 0.75  # of a small letter; a tall one has a third more


@pytest.mark.parametrize(
    ("name", "count", "says"),
    [
        ("sheet.svg", 1, "neither .pdf nor .png"),
        ("sheet", 1, "neither .pdf nor .png"),
        ("old.pdf", 1, "nothing is written over"),
        ("sheet.png", 18 * 12 + 1, "19 pages one under another are more than 18: give a .pdf"),
    ],
)
def test_what_cannot_be_drawn_is_refused(tmp_path: Path, name: str, count: int, says: str) -> None:
    (tmp_path / "old.pdf").write_bytes(b"plans")
    with pytest.raises(NotDone, match=says):
        write(numbered_cards(range(1, count + 1)), tmp_path / name, "a4", "")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"old.pdf": b"plans"}


def test_lettering_that_is_not_there_is_a_question_mark() -> None:
    (page,) = pages([Card("go", "Flügel", ("ö",))], "a4", "ü")
    (same,) = pages([Card("go", "Fl?gel", ("?",))], "a4", "?")
    assert page.tobytes() == same.tobytes()
