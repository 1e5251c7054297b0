"""Pictures of an invented batch, one for each thing that the window may have to show.

The figures are those that a pour of 60 g at 100 : 36 comes to; the batch before it
stands live in cup 1.
"""

from __future__ import annotations

from dataclasses import replace

from mixer.app.life.cup_life import name_of, standing
from mixer.app.picture import LiveCup, Picture, Row, ScaleView, Standing
from mixer.pour import words
from mixer.pour.sharing_cue import DONE

RESIN = Row("resin", "resin", 100, 43_200_000, 43_000_000, True)
HARDENER = Row("hardener", "hardener", 36, 9_500_000, 15_500_000, False)
FIRST = LiveCup(
    1, 1, "sample-36", 79_200_000, 432.0, "in-band", "25 min for 100 g at 25 °C",
    Standing(1445.0, 1237.0, 1673.0,
             say="Cup 1 should last 20 to 28 min from the hardener on in air of 25 degC."),
)  # fmt: skip

CURES = (
    "rudder skin, left: peel ply off not before Thu 2 May 14:20, if it stays at 22 degC",
    "batch 12: handling not before Sat 4 May 03:10, at 5 degC assumed",
)
READY = Picture(serial=1, say="Choose resin, size and port.", live_cups=(FIRST,), curing=CURES)

EASE = Picture(
    serial=1, stage="pour", component="hardener", net_ug=9_500_000, total_ug=52_700_000,
    target_ug=15_500_000, low_ug=15_200_000, high_ug=15_900_000, cue="ease",
    say="Gently: 6.0 g of hardener to go.", batch=2, division_ug=100_000, resin_system="sample-36",
    size_ug=60_000_000, scale=ScaleView("fresh", "64.7 g", ""), rows=(RESIN, HARDENER),
    live_cups=(FIRST,), ratio_target=36.0, contact_age_s=24.0, simulated=True,
    resin_source="invented for cupside: no maker's product",
)  # fmt: skip

_NOTHING_POURED = (
    replace(RESIN, net_ug=None, target_ug=None, settled=False),
    replace(HARDENER, net_ug=None, target_ug=None),
)
PLACE = replace(
    EASE, stage="cup", component=None, net_ug=None, total_ug=None, target_ug=None, low_ug=None,
    high_ug=None, cue="place", say="Put the empty cup on the scale.", contact_age_s=None,
    rows=_NOTHING_POURED, scale=ScaleView("fresh", "0.0 g", ""),
    lasts="60 g should last 21 to 29 min from the hardener on; what stays in the cup runs hot. "
    "Nobody said how warm the room is: taken for 25 degC.",
)  # fmt: skip
POUR = replace(
    PLACE, stage="pour", component="resin", net_ug=12_100_000, total_ug=12_100_000, cue="pour",
    target_ug=44_100_000, low_ug=0, high_ug=240_000_000, say="Pour: 32.0 g of resin to go.",
    rows=(replace(RESIN, net_ug=12_100_000, target_ug=44_100_000, settled=False),
          _NOTHING_POURED[1]),
    scale=ScaleView("fresh", "24.1 g", ""),
)  # fmt: skip


def hardener(net_ug: int, cue: str, say: str, **more: object) -> Picture:
    """The hardener with so much of it in the cup."""
    changed = replace(
        EASE, net_ug=net_ug, total_ug=43_200_000 + net_ug, cue=cue, say=say,
        rows=(RESIN, replace(HARDENER, net_ug=net_ug)),
        scale=ScaleView("fresh", f"{(net_ug + 55_200_000) / 1e6:.1f} g", ""),
    )  # fmt: skip
    return replace(changed, **more)  # type: ignore[arg-type]


_BOTH = (RESIN, replace(HARDENER, net_ug=15_600_000, settled=True))
STIR = replace(
    EASE, stage="stir", component=None, net_ug=None, target_ug=None, low_ug=None, high_ug=None,
    total_ug=58_800_000, cue="stir", say="Stir; scrape the sides and the bottom.",
    remaining_s=83.2, contact_age_s=61.0, rows=_BOTH, scale=ScaleView("fresh", "70.8 g", ""),
)  # fmt: skip
SECOND = replace(
    FIRST, cup=2, batch=2, total_ug=58_800_000, age_s=145.0,
    stands=replace(FIRST.stands, low_s=1262.0, high_s=1702.0, say="Cup 2 should last 21 to 29 min "
                   "from the hardener on in air of 25 degC."),
)  # fmt: skip
LIVE = replace(
    STIR, stage="live", cue="go", say="The cup is live: use it.", remaining_s=None, cup=2,
    contact_age_s=145.0, ratio_actual=36.111, verdict="in-band", outcome="live",
    live_cups=(FIRST, SECOND),
)  # fmt: skip
_EACH = replace(SECOND.stands, say="Each of cups 2 and 3 should last 21 to 29 min from the "
                "hardener on in air of 25 degC.")  # fmt: skip
_SHARED = (
    FIRST,
    replace(SECOND, total_ug=38_700_000, at_most=True, stands=_EACH),
    replace(SECOND, cup=3, total_ug=20_100_000, filler="wet micro", stands=_EACH),
)
SHARE = replace(
    LIVE, stage="split", cue="share", say="20.1 g. Enough? Lift it off, or name its filler.",
    component="share", net_ug=20_100_000, total_ug=20_100_000,
    scale=ScaleView("fresh", "25.1 g", ""),
)  # fmt: skip
FILL = replace(
    SHARE, cue="fill", component="wet micro in cup 3", net_ug=2_100_000, target_ug=2_900_000,
    say="Dust mask on. Wet micro into cup 3: 2.9 g to start, then to consistency. All in: go.",
    live_cups=_SHARED, scale=ScaleView("fresh", "27.2 g", ""),
)  # fmt: skip
HELD = replace(EASE, cue="wait", held="silent",
               say=words.HELD["silent"],
               scale=ScaleView("lost", "64.7 g", "no reading"))  # fmt: skip


def stands(cup: LiveCup, age_s: float, **told: object) -> LiveCup:
    """The cup at this age, with what then is said of it."""
    return together((cup,), age_s, **told)[0]


def together(cups: tuple[LiveCup, ...], age_s: float, **told: object) -> tuple[LiveCup, ...]:
    """The cups of one batch at this age."""
    name = name_of([cup.cup for cup in cups])
    return tuple(_stands(cup, name, age_s, told) for cup in cups)


def _stands(cup: LiveCup, of: str, age_s: float, told: dict[str, object]) -> LiveCup:
    foretold = {name: getattr(cup.stands, name) for name in ("low_s", "high_s", "working_s")}
    return replace(cup, age_s=age_s, stands=standing(of, age_s, foretold | told))


#: Name of the drawing: what it shows.
ALL: dict[str, Picture] = {
    "ready": READY,
    "clear": replace(PLACE, cue="clear", say="Clear the scale, and zero it if need be: its empty "
                     "pan must be seen before the cup.", scale=ScaleView("fresh", "67.9 g", "")),
    "place": PLACE,
    "kits": replace(PLACE, cue="go", asks_cloth=True, size_ug=93_700_000, say="go takes 93.7 g for "
                    "rib 3 plies 1-3. 90 g of dry cloth: apply about 94 g (79 to 123 g), of which "
                    "about 60 g should stay.", scale=ScaleView("fresh", "90.0 g", "")),
    "tare": replace(PLACE, cue="wait", say="Hands off: the cup's own weight is being taken.",
                    scale=ScaleView("fresh", "12.0 g", "")),
    "pour": POUR,
    "ease": EASE,
    "part": replace(
        hardener(20_000_000, "part", "Take 8.4 g out and lay it aside as waste; the cup back on "
                 "the scale."),
        component=None, net_ug=None, target_ug=None, low_ug=None, high_ug=None,
    ),
    "stop": hardener(14_600_000, "stop", "Tip the jug back."),
    "wait": hardener(14_900_000, "wait", "Wait for the weight to settle."),
    "in-band": hardener(15_500_000, "in-band", "Hardener is in band. Let the jug drip out.",
                        remaining_s=5.3),
    "next": hardener(15_600_000, "next", "Hardener is in band. Go on to the stir."),
    "over": hardener(17_300_000, "over",
                     "Over the band by 1.4 g: let it drip out, then add 4.9 g of resin."),
    "held": HELD,
    "held-by-hand": replace(EASE, cue="wait", held="by-hand",
                            say=words.HELD["by-hand"]),
    "stir": STIR,
    "live": LIVE,
    "split": replace(
        SHARE, cue="place", component=None, net_ug=None, total_ug=58_800_000,
        say=f"Cup 2 is live. To weigh a share, put an empty cup in its place. {DONE}",
    ),
    "share": SHARE,
    "fill": FILL,
    "live-out": replace(
        LIVE, verdict="out-of-band", ratio_actual=41.2, total_ug=61_000_000,
        say="The cup is live, but its weighed ratio is out of band.",
        rows=(RESIN, replace(HARDENER, net_ug=17_800_000, settled=True)),
        scale=ScaleView("fresh", "73.0 g", ""),
        live_cups=(FIRST, replace(SECOND, total_ug=61_000_000, verdict="out-of-band")),
    ),
    "cups": replace(
        EASE,
        live_cups=(
            stands(FIRST, 700.0, warm_s=660),
            stands(SECOND, 1300.0),
            LiveCup(3, 3, "invented", 58_800_000, 145.0, "in-band", "",
                    Standing(say="No time can be told for cup 3: its resin's profile has no pot "
                             "life. The maker's data sheet has it.")),
        ),
    ),
    "ended": replace(LIVE, stage="ended", cue="wait", say="The batch has ended.", cup=None,
                     outcome="dropped", verdict="unproven", ratio_actual=None),
}  # fmt: skip

_LONG = "an invented laminating system with a very long name for windy days"
_HARDENERS = "slow hardener of winter", "fast hardener of summer"
#: As much as a bench may come to: long words, three components, more cups than room.
CROWDED = replace(
    EASE, batch=12345, resin_system=_LONG, resin_source=f"invented; {_LONG}",
    component=_HARDENERS[0], say="Over the band by 1.4 g, and there is no room: discard it. " * 3,
    rows=(replace(RESIN, name="resin with a long name, parts", net_ug=1_043_200_000),
          Row(_HARDENERS[0], "hardener", 25.25, 9_500_000, 15_500_000, False),
          Row(_HARDENERS[1], "hardener", 10.75, None, None, False)),
    scale=ScaleView("stale", "10064.7 g", "no reading since the cable was moved " * 3),
    live_cups=tuple(
        LiveCup(number, number, _LONG, 1_079_200_000, 4321.0 - 300 * number,
                "out-of-band" if number % 2 else "unproven", "25 min for 100 g at 25 °C " * 3,
                Standing(low_s=5237.0, high_s=6673.0,
                         mark=("", "half", "late", "over", "warm")[number % 5]),
                age_at_least=number % 2 == 1)
        for number in range(1, 13)),
)  # fmt: skip
