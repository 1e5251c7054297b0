"""The words of the command line, and nothing else; what they do is in :mod:`mixer.commands`.

What goes wrong is one sentence on standard error and a status, never a stack trace.
"""

from __future__ import annotations

import argparse
import errno
import os
import sys
from collections.abc import Sequence
from functools import cache
from io import TextIOWrapper
from typing import TYPE_CHECKING, Any, NoReturn

from mixer.app import endings
from mixer.app.request import USUAL_SCALE
from mixer.app.sentence import sentence
from mixer.app.spoken import let_go_of_output, tell
from mixer.commands import bench, cups, epoxy, planning, records, tagging

if TYPE_CHECKING:
    Words = argparse._SubParsersAction[argparse.ArgumentParser]

#: What may be said of a batch beside its masses.
TOLD = (
    *("--air", "--resin-temp", "--surface", "--rh", "--operator", "--layup", "--plies"),
    *("--resin-lot", "--hardener-lot"),
)
WHEN = "2026-11-01T10:30"
#: How much is left of what the batch is made of, said once for each component.
OF_A_LOT: dict[str, Any] = {
    "action": "append", "default": [], "metavar": "resin=900g", "help": "of this lot, in its jug",
}  # fmt: skip
#: What may be said while it is poured, a line each.
WORDS_TO_MIX = (
    "While it is poured, a line each: go, hold, use, part, drop, note TEXT; jug TAG, the tag that "
    "was scanned off the jug in your hand; was resin, what has just been poured was that; "
    "air 24degC, how warm the room is now; thick 2, that cup 2 is thickening; "
    "with --size kit, before the cup, kit TAG for each kit that is scanned, "
    "or its dry cloth upon the empty scale (or kit 412g), hold to begin anew and go to take what "
    "is said, while the cloth lies there; with no cable shows 44.3, or was 42.1 where the total "
    "before was typed wrong; weigh "
    "JUG (or weigh JUG 1244g), before the cup and in the stir, to see what left it; moved, once "
    "all of it was scraped into a second, clean cup; split, to share it out once it is "
    "stirred: then split (or split 30g) for a share, filler NAME (or filler NAME 4g), and go."
)


def _number(text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text[:20]!r} was read; give a number, such as 3"
        ) from None


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        tell(sentence(ValueError(f"{self.prog}: {message}")))
        raise SystemExit(2)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit status.

    0 done (``mix``: live and in band), 1 ended otherwise, 2 wrong input, 3 no scale.
    SystemExit, with 2, where the words make no command.

    >>> main(["record", "export", "--to", "batches.csv", "--record", "no-such-record"])
    2
    """
    if sys.stdout is None:  # closed from the start: there is nobody to tell
        sys.stdout = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w")
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # what a terminal cannot show
    given = _kept_together(sys.argv[1:] if argv is None else argv)
    args = _parser(others=bool(given) and given[0] != "mix").parse_args(given)
    try:
        with endings.heeded():
            status = int(args.run(args))
            sys.stdout.flush()  # so that a reader that has gone is noticed here
            return status
    except ValueError as error:
        tell(sentence(error))
        return 2
    except KeyboardInterrupt:
        tell("Stopped.")
        return 1
    except OSError as error:
        if error.errno not in (errno.EPIPE, errno.EIO):  # these: who read the output has gone
            about = f"{error.filename}: " if error.filename else ""
            tell(f"It cannot go on. {about}{sentence(error)}")
        let_go_of_output()
        return 1
    except Exception as error:
        tell(f"The program itself failed ({_where(error)}).")
        return 1


def _kept_together(words: Sequence[str]) -> list[str]:
    """``--size -5g`` as ``--size=-5g``, and one by itself with a blank before it: a figure below
    zero is a value, no option.

    >>> _kept_together(["mix", "--size", "-5g", "--jsonl"])
    ['mix', '--size=-5g', '--jsonl']
    >>> _kept_together(["air", "-5degC"])
    ['air', ' -5degC']
    """
    kept: list[str] = []
    for word in words:
        if word[:1] != "-" or not word[1:2].isdigit() or "--" in kept:
            kept.append(word)
        elif kept and kept[-1][:2] == "--":
            kept[-1] += f"={word}"
        else:
            kept.append(f" {word}")
    return kept


def _where(error: Exception) -> str:
    import traceback  # seldom needed, and slow to load before the window stands

    at = traceback.extract_tb(error.__traceback__)[-1]
    return f"{type(error).__name__} in {os.path.basename(at.filename)}, line {at.lineno}"


@cache
def _parser(*, others: bool) -> argparse.ArgumentParser:
    """That of all commands; of a batch alone, or of no word, only what these need: their window
    is waited for. Made once, also where ``main`` is called again and again."""
    top = _Parser(prog="cupside", description="Guides an epoxy batch by weight, and records it.")
    top.set_defaults(run=bench.window)
    words: Words = top.add_subparsers(parser_class=_Parser)
    _mix(words)
    if others:
        _others(words)
    return top


def _mix(words: Words) -> None:
    mix = words.add_parser("mix", help="one guided batch", epilog=WORDS_TO_MIX)
    mix.add_argument("--resin", required=True)
    mix.add_argument("--size", required=True, help="60g; or kit: by the cloth, scanned or weighed")
    mix.add_argument(
        "--port",
        required=True,
        help="where the scale is; sim: is a simulated bench; typed: is a scale with no cable, "
        "whose totals you type (typed:0.01g says the steps of its display, else 0.1g)",
    )
    mix.add_argument("--scale", default=USUAL_SCALE, help="its profile, by name or file")
    for flag in ("--cup", "--stir", *TOLD, "--record"):
        mix.add_argument(flag)
    mix.add_argument("--left", **OF_A_LOT)
    mix.add_argument("--hands-free", action="store_true")
    face = mix.add_mutually_exclusive_group()
    face.add_argument("--text", action="store_true")
    face.add_argument("--jsonl", action="store_true")
    mix.set_defaults(run=bench.mix)


def _others(words: Words) -> None:
    resin = words.add_parser("resin", help="resin profiles").add_subparsers(
        parser_class=_Parser, required=True, metavar="list|show|confirm"
    )
    one = resin.add_parser("list")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=bench.resin_list)
    one = resin.add_parser("show")
    one.add_argument("name")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=bench.resin_show)
    one = resin.add_parser("confirm")
    one.add_argument("name")
    one.add_argument("--ratio", required=True, metavar="100:36")
    one.add_argument("--by", required=True, choices=["weight", "volume"])
    one.set_defaults(run=bench.resin_confirm)

    close = words.add_parser("close", help="close a live cup")
    close.add_argument("cup", type=_number)
    how = close.add_mutually_exclusive_group(required=True)
    how.add_argument("--left", metavar="9g")
    how.add_argument("--used-up", action="store_true")
    how.add_argument("--discard", action="store_true")
    close.add_argument("--record")
    close.set_defaults(run=cups.close)

    _live_cups(words)

    demo = words.add_parser("demo", help="a simulated batch, start to end")
    demo.add_argument("--fast", action="store_true", help="a faster clock for all of it")
    demo.add_argument("--hands-on", action="store_true", help="pour it yourself, by the keyboard")
    demo.add_argument("--out", default="cupside-demo", metavar="DIR")
    demo.set_defaults(run=bench.demo)

    ratio = words.add_parser("ratio", help="how much hardener a resin needs")
    ratio.add_argument("--resin", metavar="NAME|FILE")
    for flag, example in (("--eew", "190"), ("--ahew", "24.4")):
        ratio.add_argument(flag, metavar=example)
    for flag in ("--density-resin", "--density-hardener"):
        ratio.add_argument(flag, metavar="1.15g/mL")
    ratio.add_argument("--json", action="store_true")
    ratio.set_defaults(run=epoxy.ratio)

    life = words.add_parser("life", help="how long a cup lives, and how hot it gets")
    life.add_argument("--resin", required=True, metavar="NAME|FILE")
    life.add_argument("--mass", required=True, metavar="100g")
    for flag in ("--air", "--start"):
        life.add_argument(flag, metavar="25degC")
    life.add_argument("--cup", metavar="NAME|FILE")
    life.add_argument("--shape", metavar="cup|tray|film|stack", help="a stack lies on foam")
    life.add_argument("--depth", metavar="12mm", help="of a tray, a film or a stack")
    life.add_argument("--share", metavar="40%", help="of a stack's weight that is epoxy")
    life.add_argument("--softens", metavar="60degC", help="the foam under a stack")
    life.add_argument("--lasting", metavar="30min", help="the largest mass that lives so long")
    life.add_argument("--plot", metavar="FILE.svg|png", help="a picture of its course")
    life.add_argument("--json", action="store_true")
    life.set_defaults(run=epoxy.life)

    cure = words.add_parser("cure", help="how far a laminate has cured, by its temperatures")
    cure.add_argument("batch", nargs="?", help="its number; else all that was mixed of late")
    cure.add_argument("--layup", help="in the place of a batch: all of its batches")
    cure.add_argument("--air", metavar="21degC", help="of the room from now on; else cold")
    cure.add_argument("--json", action="store_true")
    cure.add_argument("--record")
    cure.set_defaults(run=records.cure)

    tags = words.add_parser("tags", help="square codes to print: ply kits, jugs, command cards")
    tags.add_argument("what", metavar="LAYUP|jugs|cards")
    tags.add_argument("--to", required=True, metavar="FILE.pdf|.png")
    own = "whose jugs; else those of your own profiles"
    tags.add_argument("--resin", action="append", default=[], metavar="NAME|FILE", help=own)
    tags.add_argument(
        "--ply", action="append", default=[], metavar="1-4", help="one kit of these, of a layup"
    )
    tags.add_argument("--numbers", metavar="1-5", help="which numbered tags, with the cards")
    tags.add_argument("--paper", choices=["a4", "letter"], default="a4")
    tags.set_defaults(run=tagging.tags)

    tag = words.add_parser("tag", help="what a numbered tag means")
    tag.add_argument("number", type=_number)
    tag.add_argument("meaning", nargs="?", help="empty: none any more")
    tag.add_argument("--kit", metavar="LAYUP", help="it hangs on a ply kit of this layup")
    tag.add_argument("--ply", action="append", metavar="1-4", help="of these plies, else of all")
    tag.set_defaults(run=tagging.tag)
    size = words.add_parser("size", help="how much to mix for a layup, and in which batches")
    size.add_argument(
        "layup", nargs="?", metavar="LAYUP", help="its file (TOML), or a table of plies (CSV)"
    )
    for flag, example in (
        *(("--resin", "NAME|FILE"), ("--cup", "NAME|FILE")),
        *(("--scale", "NAME|FILE"), ("--air", "22degC"), ("--kit", "412g"), ("--area", "0.6m2")),
        *(("--fabric", "NAME|'300 g/m2'"), ("--plies", "4"), ("--resin-fraction", "40%")),
        ("--method", "NAME|FILE"),
    ):
        size.add_argument(flag, metavar=example)
    size.add_argument("--ply", action="append", metavar="1-4,7", help="these alone, of all given")
    size.add_argument("--left", **OF_A_LOT)
    size.add_argument("--record", help="of which it learns how fast epoxy is used up")
    size.add_argument("--json", action="store_true")
    size.set_defaults(run=planning.size)

    thicken = words.add_parser("thicken", help="how much filler for a cup of epoxy")
    thicken.add_argument("filler", metavar="NAME|FILE")
    thicken.add_argument("--mix", metavar="'wet micro'")
    thicken.add_argument("--epoxy", metavar="40g", help="of mixed epoxy that is there")
    thicken.add_argument("--volume", metavar="60mL", help="of it that is wanted")
    thicken.add_argument("--resin", metavar="NAME|FILE")
    thicken.add_argument("--cup", metavar="NAME|FILE", help="what fits there once thickened")
    thicken.add_argument("--json", action="store_true")
    thicken.set_defaults(run=planning.thicken)

    layup = words.add_parser("layup", help="layup schedules").add_subparsers(
        parser_class=_Parser, required=True, metavar="check|import|afterwards"
    )
    one = layup.add_parser("check", help="whether all of it can be read")
    one.add_argument("file")
    one.set_defaults(run=planning.layup_check)
    one = layup.add_parser("import", help="a layup from a table of plies")
    one.add_argument("table", metavar="TABLE.csv")
    one.add_argument("--to", required=True, metavar="FILE.toml")
    one.set_defaults(run=planning.layup_import)
    one = layup.add_parser("afterwards", help="how much resin its cloth can hold, by the record")
    one.add_argument("file", nargs="?", metavar="LAYUP")
    one.add_argument("--layup", help="its name in the record, if that is not the file's")
    one.add_argument("--cloth", metavar="720g", help="its dry cloth, weighed")
    one.add_argument("--json", action="store_true")
    one.add_argument("--record")
    one.set_defaults(run=planning.layup_afterwards)

    record = words.add_parser("record", help="the build record")
    asked: Words = record.add_subparsers(parser_class=_Parser, required=True)
    _record(asked)
    asked.metavar = "|".join(asked.choices)


def _live_cups(words: Words) -> None:
    split = words.add_parser("split", help="a live cup into several; with ? what was not weighed")
    split.add_argument("cup", type=_number)
    split.add_argument("--into", action="append", required=True, metavar="30g")
    split.add_argument("--layup", metavar="'rib 4'", help="of these shares, if not the batch's")
    split.set_defaults(run=cups.split)

    fill = words.add_parser("fill", help="filler that went into a live cup")
    fill.add_argument("cup", type=_number)
    fill.add_argument("--with", dest="filler", required=True, metavar="'wet micro'")
    fill.add_argument("--mass", metavar="4.2g")
    fill.set_defaults(run=cups.fill)

    move = words.add_parser("move", help="all of a live cup was scraped into a second, clean one")
    move.add_argument("cup", type=_number)
    move.set_defaults(run=cups.move)

    thick = words.add_parser("thick", help="a live cup is thickening")
    thick.add_argument("cup")
    thick.set_defaults(run=cups.thick)

    air = words.add_parser("air", help="how warm the air is now, for every live cup")
    air.add_argument("temperature", metavar="24degC")
    air.set_defaults(run=cups.air)

    for parser in (split, fill, move, thick, air):
        parser.add_argument("--record")


def _record(words: Words) -> None:
    one = words.add_parser("list", help="one line a batch")
    one.add_argument("--lot", help="only the batches that this lot went into")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=records.list_batches)

    one = words.add_parser("show", help="everything known of one batch")
    one.add_argument("batch")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=records.show)

    one = words.add_parser("export", help="the whole record as CSV")
    one.add_argument("--to", required=True, metavar="FILE.csv")
    one.set_defaults(run=records.export)

    one = words.add_parser("verify", help="whether every fact is as it was stored")
    one.add_argument("--head", metavar="HEX", help="as it stands on an export")
    one.set_defaults(run=records.verify)

    one = words.add_parser("rebuild", help="what can be read of it, carried over to a new file")
    one.set_defaults(run=records.rebuild)

    one = words.add_parser("backup", help="a copy, also while a pour is on")
    one.add_argument("--to", required=True, metavar="FILE")
    one.set_defaults(run=records.backup)

    one = words.add_parser("correct", help="what was typed wrong, or found out later")
    one.add_argument("batch")
    for flag in ("--field", "--value", "--reason"):
        one.add_argument(flag, required=True)
    one.set_defaults(run=records.correct)

    one = words.add_parser("add", help="a batch mixed elsewhere, or typed in later")
    one.add_argument("--resin", required=True, metavar="NAME|FILE")
    one.add_argument("--mixed-at", required=True, metavar=WHEN)
    one.add_argument("--resin-mass", metavar="80g")
    one.add_argument("--hardener-mass", metavar="28.8g")
    one.add_argument("--mass", action="append", default=[], metavar="NAME=9.6g")
    for flag in (*TOLD, "--note"):
        one.add_argument(flag)
    one.set_defaults(run=records.add)

    _seen_later(words)
    for parser in words.choices.values():
        parser.add_argument("--record")


def _seen_later(words: Words) -> None:
    one = words.add_parser("temperature", help="of the room in which a laminate cures")
    one.add_argument("--air", metavar="21degC", help="with --at, else now")
    for flag in ("--least", "--most"):
        one.add_argument(flag, metavar="12degC", help="of a thermometer that keeps it")
    one.add_argument("--from", dest="since", metavar=WHEN, help="since when it was kept")
    one.add_argument("--to", dest="until", metavar=WHEN)
    one.set_defaults(kind="temperature")

    two = words.add_parser("witness", help="how hard the witness cup is")
    two.add_argument("--hardness", required=True, metavar="tacky|dents|hard|'80 shore-d'")
    two.set_defaults(kind="witness")

    three = words.add_parser("finding", help="what was found of a laminate, or mended")
    three.add_argument("--what", required=True, metavar="inspection|defect|repair")
    three.add_argument("--text", required=True)
    three.set_defaults(kind="finding")

    four = words.add_parser("wiped", help="what was wiped or squeegeed off a layup, weighed")
    four.add_argument("--mass", required=True, metavar="12g")
    four.set_defaults(kind="wiped")

    for parser in (one, two, three, four):
        parser.add_argument("batch", nargs="?")
        parser.add_argument("--layup", help="in the place of a batch: all of its batches")
        parser.add_argument("--at", metavar=WHEN, help="when it was so; else now")
        parser.set_defaults(run=records.seen)
