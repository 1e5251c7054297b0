"""The commands, and nothing else: each reads its words and hands them on.

What goes wrong is one sentence on standard error and a status, never a stack trace.
"""

from __future__ import annotations

import argparse
import errno
import io
import json
import os
import sys
import traceback
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from mixer.app import endings
from mixer.app.request import Request
from mixer.app.sentence import sentence

if TYPE_CHECKING:
    from mixer.app.shop import Shop


class _Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence."""

    def error(self, message: str) -> NoReturn:
        _tell(sentence(ValueError(f"{self.prog}: {message}")))
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
    args = _parser().parse_args(argv)
    try:
        with endings.heeded():
            status = int(args.run(args))
            sys.stdout.flush()  # so that a reader that has gone is noticed here
            return status
    except ValueError as error:
        _tell(sentence(error))
        return 2
    except KeyboardInterrupt:
        _tell("Stopped.")
        return 1
    except OSError as error:
        if error.errno not in (errno.EPIPE, errno.EIO):  # these: who read the output has gone
            about = f"{error.filename}: " if error.filename else ""
            _tell(f"It cannot go on. {about}{sentence(error)}")
        _let_go_of_output()
        return 1
    except Exception as error:
        at = traceback.extract_tb(error.__traceback__)[-1]
        where = f"{type(error).__name__} in {Path(at.filename).name}, line {at.lineno}"
        _tell(f"The program itself failed ({where}).")
        return 1


def _tell(sentence: str) -> None:
    try:
        # Without a standard error there is nobody to tell; standard output is for scripts.
        if sys.stderr is not None:
            print(sentence, file=sys.stderr, flush=True)
    except OSError:
        return


def _let_go_of_output() -> None:
    """So that what is still held for it is not tried once more when the program ends."""
    try:
        number = sys.stdout.fileno()
    except (OSError, ValueError):  # no file of the system's: nothing to let go of
        return
    os.dup2(os.open(os.devnull, os.O_WRONLY), number)


def _words() -> Iterable[str]:
    """Lines of standard input, whatever bytes they are; none where it is closed."""
    if isinstance(sys.stdin, io.TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    return sys.stdin or ()


def _parser() -> argparse.ArgumentParser:
    top = _Parser(prog="cupside", description="Guides an epoxy batch by weight, and records it.")
    top.set_defaults(run=_window)
    commands = top.add_subparsers(parser_class=_Parser)

    resin = commands.add_parser("resin", help="resin profiles").add_subparsers(
        parser_class=_Parser, required=True, metavar="list|show|confirm"
    )
    one = resin.add_parser("list")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=_resin_list)
    one = resin.add_parser("show")
    one.add_argument("name")
    one.add_argument("--json", action="store_true")
    one.set_defaults(run=_resin_show)
    one = resin.add_parser("confirm")
    one.add_argument("name")
    one.add_argument("--ratio", required=True, metavar="100:36")
    one.add_argument("--by", required=True, choices=["weight", "volume"])
    one.set_defaults(run=_resin_confirm)

    mix = commands.add_parser("mix", help="one guided batch")
    for flag in ("--resin", "--size", "--port"):
        mix.add_argument(flag, required=True)
    mix.add_argument("--scale", default="sma")
    for flag in ("--cup", "--stir", "--air", "--resin-temp", "--rh", "--operator", "--layup",
                 "--plies", "--resin-lot", "--hardener-lot", "--record"):  # fmt: skip
        mix.add_argument(flag)
    mix.add_argument("--hands-free", action="store_true")
    face = mix.add_mutually_exclusive_group()
    face.add_argument("--text", action="store_true")
    face.add_argument("--jsonl", action="store_true")
    mix.set_defaults(run=_mix)

    close = commands.add_parser("close", help="close a live cup")
    close.add_argument("cup", type=int)
    how = close.add_mutually_exclusive_group(required=True)
    how.add_argument("--left", metavar="9g")
    how.add_argument("--used-up", action="store_true")
    how.add_argument("--discard", action="store_true")
    close.add_argument("--record")
    close.set_defaults(run=_close)

    demo = commands.add_parser("demo", help="a simulated batch, start to end")
    demo.add_argument("--fast", action="store_true", help="a faster clock for all of it")
    demo.add_argument("--hands-on", action="store_true", help="pour it yourself, by the keyboard")
    demo.add_argument("--out", default="cupside-demo", metavar="DIR")
    demo.set_defaults(run=_demo)

    record = commands.add_parser("record", help="the build record").add_subparsers(
        parser_class=_Parser, required=True, metavar="export"
    )
    export = record.add_parser("export")
    export.add_argument("--to", required=True, metavar="FILE.csv")
    export.add_argument("--record")
    export.set_defaults(run=_export)
    return top


def _resin_list(args: argparse.Namespace) -> int:
    from mixer.app.confirm import default_store, is_confirmed
    from mixer.app.profiles import ProfileError, load_resin, names, resin_view

    views, status = [], 0
    for name in names("resins"):
        try:
            profile = load_resin(name)
        except ProfileError as error:  # one that is wrong must not hide the others
            _tell(sentence(error))
            status = 2
        else:
            views.append(resin_view(profile, is_confirmed(profile, default_store())))
    if args.json:
        print(json.dumps(views))
    else:
        for view in views:
            print(_line(view))
    return status


def _resin_show(args: argparse.Namespace) -> int:
    from mixer.app.confirm import default_store, is_confirmed
    from mixer.app.profiles import load_resin, resin_view

    profile = load_resin(args.name)
    view = resin_view(profile, is_confirmed(profile, default_store()))
    print(json.dumps(view) if args.json else f"{_line(view)}\n  source: {view['source']}")
    return 0


def _line(view: dict[str, object]) -> str:
    components = view["components"]
    assert isinstance(components, list)
    parts = " : ".join(f"{c['parts']:g}" for c in components)
    names = " : ".join(c["name"] for c in components)
    confirmed = "confirmed" if view["confirmed"] else "not confirmed"
    return f"{view['name']}  {parts} by weight ({names}), {confirmed}"


def _resin_confirm(args: argparse.Namespace) -> int:
    from mixer.app.confirm import confirm, default_store
    from mixer.app.profiles import load_resin

    profile = load_resin(args.name)
    print(confirm(profile, args.ratio, args.by, default_store(), datetime.now(UTC)))
    return 0


def _mix(args: argparse.Namespace) -> int:
    from mixer.app.paperwork import record_path
    from mixer.app.shop import Shop
    from mixer.console import FAILED, run_jsonl, run_text

    request = Request(
        resin=args.resin, size=args.size, port=args.port, scale=args.scale, cup=args.cup,
        hands_free=args.hands_free, stir=args.stir, air=args.air, resin_temp=args.resin_temp,
        rh=args.rh, operator=args.operator, layup=args.layup, plies=args.plies,
        resin_lot=args.resin_lot, hardener_lot=args.hardener_lot,
    )  # fmt: skip
    windowed = False
    if not (args.text or args.jsonl):
        from mixer.desk.screen import has_screen

        windowed = has_screen()
    shop = Shop(record_path(args.record), give_up_s=None if windowed else 60.0)
    shop.start_up()
    if windowed:
        from mixer.desk.window import open_window

        open_window(shop, request, leave_when_over=True)
        status = shop.exit_status()
        shop.stop("window closed")
        return 1 if status is None else status
    shop.start(request)
    face = run_jsonl if args.jsonl else run_text
    status = face(shop, sys.stdout, _words())
    last = shop.picture()
    if last.outcome in FAILED:
        _tell(last.say)
    shop.stop("done")
    return status


def _demo(args: argparse.Namespace) -> int:
    """80 g of an invented resin on a simulated bench, poured by a simulated person on a
    clock that runs faster for plant and program alike, or by the visitor in real time.
    No rule is shortened."""
    from mixer.app.clock import Clock
    from mixer.app.visitor import WORDS, Visitor
    from mixer.desk.screen import has_screen

    if args.fast and args.hands_on:
        raise ValueError("No hand keeps up with --fast: --hands-on runs in real time, without it.")
    out = Path(args.out)
    record = out / "demo.cupside"
    request = Request("sample-36", "80g", "sim:", hands_free=not args.hands_on, operator="demo")
    visitor = Visitor() if args.hands_on else None
    speed = 1 if visitor else 25 if args.fast else 4

    def open_shop() -> Shop:
        from mixer.app.shop import Shop

        shop = Shop(record, clock=Clock(speed), visitor=visitor)
        shop.start_up()
        return shop

    if has_screen():
        from mixer.desk import hands_on
        from mixer.desk.late import open_window_first

        seen = open_window_first(
            open_shop,
            request,
            leave_when_over=True,
            extra_keys=hands_on.keys(visitor) if visitor else None,
            extra_help=hands_on.HELP if visitor else "",
        )
        status = seen.exit_status() if seen else None
        say = seen.picture().say if seen else ""
    else:
        from mixer.console import run_text

        shop = open_shop()
        if visitor:
            print(f"Type a line at a time: {WORDS}; go as you open the next jug; hold, drop.")
        shop.start(request)
        status = run_text(shop, sys.stdout, visitor.listen(_words()) if visitor else ())
        say = shop.picture().say
        shop.stop("done")
    if status in (2, 3):
        _tell(say)
        return status
    if not record.exists():  # the window was closed before there was a batch
        _tell("Nothing was begun.")
        return 1
    from mixer.app.paperwork import export_csv

    export_csv(record, out / "batches.csv")
    print(f"An invented batch on a simulated bench; record and CSV are in {out}.")
    return 1 if status is None else status


def _window(args: argparse.Namespace) -> int:
    from mixer.app.paperwork import record_path
    from mixer.app.shop import Shop
    from mixer.desk.screen import has_screen

    if not has_screen():
        raise ValueError("No window can be opened here; cupside mix --text works in a terminal.")
    from mixer.desk.window import open_window

    shop = Shop(record_path(None), give_up_s=None)
    shop.start_up()
    open_window(shop)
    shop.stop("window closed")
    return 0


def _close(args: argparse.Namespace) -> int:
    from mixer.app.paperwork import close_cup, record_path

    how = "left" if args.left is not None else "used-up" if args.used_up else "discard"
    print(close_cup(record_path(args.record), args.cup, how, args.left))
    return 0


def _export(args: argparse.Namespace) -> int:
    from mixer.app.paperwork import export_csv, record_path

    to = Path(args.to)
    count = export_csv(record_path(args.record), to)
    print(f"Written to {to}; batches: {count}.")
    return 0
