"""What each command does. The words are read in :mod:`mixer.cli`.

Each loads what it needs itself, and one that opens a window opens it before the program
behind it is loaded: nothing heavy may be imported at the top of this file.
"""

from __future__ import annotations

import json
import sys
import threading
from collections.abc import Callable, Iterable
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mixer.app.book.record_path import record_path
from mixer.app.request import Request
from mixer.app.sentence import sentence
from mixer.app.spoken import tell

if TYPE_CHECKING:
    from argparse import Namespace

    from mixer.app.bench.shop import Shop

#: Of the demo's own clock: a batch takes three to five minutes of it.
DEMO_MOST_S = 1200


def resin_list(args: Namespace) -> int:
    from mixer.app.files.confirm import default_store, is_confirmed
    from mixer.app.files.profiles import ProfileError, load_resin, names
    from mixer.app.files.resin_view import resin_view

    views, status = [], 0
    for name in names("resins"):
        try:
            profile = load_resin(name)
        except ProfileError as error:  # one that is wrong must not hide the others
            tell(sentence(error))
            status = 2
        else:
            views.append(resin_view(profile, is_confirmed(profile, default_store())))
    if args.json:
        print(json.dumps(views))
    else:
        for view in views:
            print(_line(view))
    return status


def resin_show(args: Namespace) -> int:
    from mixer.app.files.confirm import default_store, is_confirmed
    from mixer.app.files.profiles import load_resin
    from mixer.app.files.resin_view import resin_view

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


def resin_confirm(args: Namespace) -> int:
    from datetime import UTC, datetime

    from mixer.app.files.confirm import confirm, default_store
    from mixer.app.files.profiles import load_resin

    profile = load_resin(args.name)
    print(confirm(profile, args.ratio, args.by, default_store(), datetime.now(UTC)))
    return 0


def window(args: Namespace) -> int:
    """The window, ready to choose resin, size and port."""
    from mixer.desk.screen import has_screen

    open_shop = _shop(record_path(None), give_up_s=None)
    if not has_screen():
        raise ValueError("No window can be opened here; cupside mix --text works in a terminal.")
    from mixer.desk.late import open_window_first

    open_window_first(open_shop)
    return 0


def mix(args: Namespace) -> int:
    """One guided batch, in the window where there is a screen and no other face was asked for."""
    asked = {name: getattr(args, name) for name in Request.__slots__}
    asked["left"] = "; ".join(args.left) or None
    request, record = Request(**asked), record_path(args.record)
    if not (args.text or args.jsonl):
        from mixer.desk.screen import has_screen

        if has_screen():
            return _mix_in_window(record, request)
    from mixer.console import FAILED, run_jsonl, run_text, unwarned

    shop = _shop(record, give_up_s=60.0)()
    shop.start(request)
    status = (run_jsonl if args.jsonl else run_text)(shop, sys.stdout, _words())
    last = shop.picture()
    if last.outcome in FAILED:
        tell(last.say)
    elif not args.jsonl and (gone := unwarned(last)):
        print(gone)
    shop.stop("done")
    return status


def _mix_in_window(record: Path, request: Request) -> int:
    from mixer.desk.late import open_window_first

    shop = open_window_first(_shop(record, give_up_s=None), request, leave_when_over=True)
    if shop is None:
        return 1
    from mixer.console import unwarned

    if gone := unwarned(shop.picture()):
        print(gone)
    status = shop.exit_status()
    return 1 if status is None else status


def _shop(record: Path, **options: Any) -> Callable[[], Shop]:
    """Makes the program behind a face, and starts it."""

    def open_shop() -> Shop:
        from mixer.app.bench.shop import Shop

        shop = Shop(record, **options)
        shop.start_up()
        return shop

    return open_shop


def _words() -> Iterable[str]:
    """Lines of standard input, whatever bytes they are; none where it is closed."""
    if isinstance(sys.stdin, TextIOWrapper):
        sys.stdin.reconfigure(errors="replace")
    return sys.stdin or ()


def _dropped_after(open_shop: Callable[[], Shop], limit_s: float) -> Callable[[], Shop]:
    """The same, where what is still being poured after so long is dropped: on a machine too busy
    for its clock, the simulated person may find no way on."""

    def open_limited() -> Shop:
        shop = open_shop()

        def drop() -> None:
            if shop.exit_status() is None:
                tell("The computer was too busy for this demo, and the batch is dropped.")
                shop.key("drop")

        timer = threading.Timer(limit_s, drop)
        timer.daemon = True
        timer.start()
        return shop

    return open_limited


def demo(args: Namespace) -> int:
    """80 g of an invented resin on a simulated bench, poured by a simulated person on a
    clock that runs faster for plant and program alike, or by the visitor in real time.
    No rule is shortened."""
    from mixer.app.bench.visitor import WORDS, Visitor
    from mixer.app.clock import Clock
    from mixer.console import as_text, run_text
    from mixer.desk.screen import has_screen

    if args.fast and args.hands_on:
        raise ValueError("No hand keeps up with --fast: --hands-on runs in real time, without it.")
    out = Path(args.out)
    record = out / "demo.cupside"
    request = Request("sample-36", "80g", "sim:", hands_free=not args.hands_on, operator="demo")
    visitor = Visitor() if args.hands_on else None
    speed = 1 if visitor else 10 if args.fast else 4
    open_shop = _shop(record, clock=Clock(speed), visitor=visitor)
    if not visitor:
        open_shop = _dropped_after(open_shop, DEMO_MOST_S / speed)

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
        if seen and seen.picture().verdict is not None:
            print(as_text(seen.picture(), over=True))
    else:
        shop = open_shop()
        if visitor:
            print(f"Type a line at a time: {WORDS}; go as you open the next jug; hold, drop.")
        shop.start(request)
        status = run_text(shop, sys.stdout, visitor.listen(_words()) if visitor else ())
        say = shop.picture().say
        shop.stop("done")
    if status in (2, 3):
        tell(say)
        return status
    if not record.exists():  # the window was closed before there was a batch
        tell("Nothing was begun.")
        return 1
    from mixer.app.book.looking import export_csv

    export_csv(record, out / "batches.csv")
    print(f"An invented batch on a simulated bench; record and CSV are in {out}.")
    return 1 if status is None else status
