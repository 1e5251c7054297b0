"""A sheet of cards, drawn once, as PNG or PDF: twelve a page on A4 and on US letter.

Each code keeps its four modules of quiet (ISO/IEC 18004) and is of whole dots, so that no
printer blurs it at 100 %. Lengths are in millimetres until they are dots of the page.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from mixer.app.sentence import NotDone
from mixer.app.tags.tag_cards import Card

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

DPI = 300
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
CARD_MM = (93.0, 42.0)
COLUMNS, ROWS = 2, 6
A_PAGE = COLUMNS * ROWS
CODE_MM = 40.0  # with its quiet around, at most
GAP_MM = 1.5
TITLE_MM, LINE_MM, LEAST_MM, FOOT_MM = 13.0, 4.6, 2.6, 3.4  # heights of type
QUIET = 4  # modules
MOST_TALL = 65_535  # dots of a PNG; what is taller many readers do not open (from memory)
FOOT = "Print at 100 %, try each card with the scanner, cut it out, cover it clear. "


def write(cards: Sequence[Card], to: Path, paper: str, about: str) -> int:
    """Draw the sheet into a new file, PDF or PNG by its ending; how many pages it has, in a
    PNG one under another. ``about`` is said at the foot of each. Raises
    :class:`NotDone`, and OSError where a disk fails.
    """
    ending = to.suffix.lower()
    if ending not in (".pdf", ".png"):
        raise NotDone(f"{str(to)!r} is neither .pdf nor .png: give a file that ends so")
    if to.exists():
        raise NotDone(f"{to} is there already, and nothing is written over: give another name")
    count, most = _count(cards), MOST_TALL // _dots(PAPERS[paper][1])
    if ending == ".png" and count > most:
        raise NotDone(
            f"{to}: {count} pages one under another are more than {most}: give a .pdf, or draw "
            "fewer cards at once, as many readers open no taller picture"
        )
    sheet = pages(cards, paper, about)
    drawn = io.BytesIO()
    if ending == ".png":
        _one_under_another(sheet).save(drawn, "PNG", dpi=(DPI, DPI))
    else:
        more = {"save_all": True, "append_images": sheet[1:]}
        sheet[0].save(drawn, "PDF", resolution=DPI, title="cupside tags", **more)
    try:
        with to.open("xb") as file:
            file.write(drawn.getvalue())
    except FileExistsError:
        raise
    except (FileNotFoundError, NotADirectoryError, PermissionError) as error:
        raise NotDone(
            f"{to} cannot be written ({error.strerror}): give a place that is there and may be "
            "written to"
        ) from None
    except OSError:
        to.unlink(missing_ok=True)
        raise
    return len(sheet)


def pages(cards: Sequence[Card], paper: str, about: str) -> list[Image.Image]:
    """Each page as a picture of one bit a dot."""
    return list(_pages(cards, paper, about))


def _count(cards: Sequence[Card]) -> int:
    """How many pages they fill."""
    return -(-len(cards) // A_PAGE)


def _pages(cards: Sequence[Card], paper: str, about: str) -> Iterator[Image.Image]:
    from PIL import Image, ImageDraw

    wide, tall = PAPERS[paper]
    left, top = (wide - COLUMNS * CARD_MM[0]) / 2, (tall - ROWS * CARD_MM[1]) / 2
    count = _count(cards)
    for page in range(count):
        picture = Image.new("1", (_dots(wide), _dots(tall)), 1)
        draw = ImageDraw.Draw(picture)
        draw.fontmode = "1"
        for place, card in enumerate(cards[page * A_PAGE : (page + 1) * A_PAGE]):
            row, column = divmod(place, COLUMNS)
            _card(draw, card, left + column * CARD_MM[0], top + row * CARD_MM[1])
        foot = f"{FOOT}{about} Page {page + 1} of {count}."
        _text(draw, foot, left, top + ROWS * CARD_MM[1] + 1, COLUMNS * CARD_MM[0], FOOT_MM)
        yield picture


def _one_under_another(sheet: Sequence[Image.Image]) -> Image.Image:
    """All pages in one picture, each as large as it is alone."""
    from PIL import Image

    wide, tall = sheet[0].size
    picture = Image.new("1", (wide, tall * len(sheet)))
    for place, page in enumerate(sheet):
        picture.paste(page, (0, place * tall))
    return picture


def _card(draw: ImageDraw.ImageDraw, card: Card, x: float, y: float) -> None:
    wide, tall = CARD_MM
    frame = [_dots(x), _dots(y), _dots(x + wide), _dots(y + tall)]
    draw.rectangle(frame, outline=0, width=2)
    _code(draw, card.code, x + (tall - CODE_MM) / 2, y + (tall - CODE_MM) / 2)
    at, room = x + tall, wide - tall - GAP_MM
    words = len(card.lines) * 1.3 * LINE_MM
    high = tall - 4 * GAP_MM - words  # what the title may take
    lines = _broken(card.title, room, high)
    size = _title(lines, room, high)
    below = y + 2 * GAP_MM
    for line in lines:
        _text(draw, line, at, below, room, size, bold=True)
        below += 1.15 * size
    below = max(below, min(y + 0.5 * tall, y + tall - 2 * GAP_MM - words))
    for line in card.lines:
        _text(draw, line, at, below, room, LINE_MM)
        below += 1.3 * LINE_MM


def _code(draw: ImageDraw.ImageDraw, code: str, x: float, y: float) -> None:
    import segno

    matrix = segno.make(code, error="q", micro=False).matrix
    size = len(matrix) + 2 * QUIET
    dot = _dots(CODE_MM) // size
    shift = QUIET * dot + (_dots(CODE_MM) - size * dot) // 2
    for row, modules in enumerate(matrix):
        for column, dark in enumerate(modules):
            if dark:
                a, b = _dots(x) + shift + column * dot, _dots(y) + shift + row * dot
                draw.rectangle((a, b, a + dot - 1, b + dot - 1), fill=0)


def _title(lines: Sequence[str], room: float, high: float) -> float:
    """The height of its type."""
    return min(TITLE_MM, high / len(lines) / 1.15, *(_fitting(line, room) for line in lines))


def _broken(title: str, room: float, high: float) -> list[str]:
    """On one line, or on two where it is larger so."""
    breaks = [at for at, char in enumerate(title[:-1]) if char in " -"]
    ways = [[title], *([title[: at + 1].rstrip(), title[at + 1 :]] for at in breaks)]
    return max(ways, key=lambda lines: _title(lines, room, high))


def _fitting(text: str, room: float) -> float:
    """The height of type at which it is as wide as the room."""
    return LINE_MM * room / max(0.1, _font(LINE_MM).getlength(_plain(text)) / _dots(1) * 1.04)


def _text(
    draw: ImageDraw.ImageDraw,
    text: str,
    x: float,
    y: float,
    room: float,
    size: float,
    *,
    bold: bool = False,
) -> None:
    """One line, no wider than the room: smaller, and then cut off."""
    said, size = _plain(text), min(size, _fitting(text, room)) if text else size
    while size < LEAST_MM and len(said) > 4:
        said = f"{said.rstrip('.')[:-1]}..."
        size = _fitting(said, room)
    weight = _dots(size / 45) if bold else 0
    at = (_dots(x), _dots(y))
    draw.text(at, said, fill=0, font=_font(size), stroke_width=weight, stroke_fill=0)


def _font(size: float) -> ImageFont.FreeTypeFont:
    from PIL import ImageFont

    font = ImageFont.load_default(_dots(size))
    assert isinstance(font, ImageFont.FreeTypeFont)  # the one that Pillow brings
    return font


def _plain(text: str) -> str:
    """What the lettering has: any other character is a question mark."""
    return text.encode("ascii", "replace").decode("ascii")


def _dots(mm: float) -> int:
    return round(mm * DPI / 25.4)
