"""What a person is told in a pour, cue and sentence, and nothing that decides."""

from __future__ import annotations

from dataclasses import dataclass

from devices.readings import FaultKind


@dataclass(frozen=True, slots=True)
class Advice:
    """The cue, the sentence, and the seconds left of a wait that is counted down."""

    cue: str
    say: str
    remaining_s: float | None = None


def grams(mass_ug: int, division_ug: int) -> str:
    """A mass with as many decimals as the scale shows.

    >>> grams(15_880_000, 100_000), grams(15_880_000, 1_000_000)
    ('15.9 g', '16 g')
    """
    decimals = 0
    while decimals < 3 and division_ug % (1_000_000 // 10**decimals):
        decimals += 1
    return f"{mass_ug / 1_000_000:.{decimals}f} g"


def up(mass_ug: int, division_ug: int) -> int:
    """The mass as the scale can show it, never less.

    >>> up(15_810_000, 100_000)
    15900000
    """
    return -(-mass_ug // max(1, division_ug)) * max(1, division_ug)


def down(mass_ug: int, division_ug: int) -> int:
    """The mass as the scale can show it, never more.

    >>> down(15_810_000, 100_000)
    15800000
    """
    return mass_ug // max(1, division_ug) * max(1, division_ug)


def too_heavy(size_ug: int, division_ug: int) -> str:
    """What is said of a cup that leaves no room for the batch on its scale."""
    return (
        f"This cup and {grams(size_ug, division_ug)} are more than the scale may carry: take a "
        "lighter cup, or drop this and ask for less."
    )


def gone(mass_ug: int, division_ug: int) -> str:
    """What is said when the cup weighs less than it did.

    >>> gone(800_000, 100_000)
    '0.8 g is gone from the cup: it is reckoned with.'
    """
    return f"{grams(mass_ug, division_ug)} is gone from the cup: it is reckoned with."


def drips_first(before: str, name: str) -> str:
    """What is said to who went on to the next jug before the last drips of the one before.

    >>> drips_first("resin", "hardener")
    'Let the resin drip out, or take its jug away; then comes hardener.'
    """
    return f"Let the {before} drip out, or take its jug away; then comes {name}."


def more_in_stir(mass_ug: int, division_ug: int, cut_off: bool = False) -> str:
    """What is said while more rests on the scale than was weighed into the cup; ``cut_off``: it
    may have come while the program was gone.

    >>> more_in_stir(2_000_000, 100_000).split(":")[0]
    '2.0 g more rests there than was weighed into the cup'
    """
    more = f"{grams(mass_ug, division_ug)} more rests there than was weighed into the cup"
    if cut_off:
        return f"{more}: take a stick out before the stir is over, else the batch stays unproven."
    return f"{more}: a stick or a hand is no matter, but pour nothing in now."


def pan_otherwise(zero_ug: int, division_ug: int) -> str:
    """What is said of an empty pan that showed no zero before the cup, and now another weight.

    >>> pan_otherwise(400_000, 100_000).split(":")[0]
    'The empty scale showed 0.4 g before the cup was put on it, and does not now'
    """
    return (
        f"The empty scale showed {grams(zero_ug, division_ug)} before the cup was put on it, and "
        "does not now: wipe it. If it was zeroed since, put the cup back and go on: the batch "
        "stays unproven."
    )


NO_STEP = " no step of this scale is in band"
MORE_CUP = (
    "Something was put upon the scale. Hands off: nothing was poured yet, so that its weight is "
    "taken with the cup's."
)
TARED_ANEW = (
    "The tare was taken anew, with all that lies on the scale: {}. If resin is in that, or the "
    "ratio is to be proven, drop the batch and begin again."
)

HELD = {
    "by-hand": "Held. Go on when you are ready.",
    "silent": "The scale has gone silent: stop pouring, and look at its cable and its power.",
    "link": "The scale's cable is out or its port is gone: stop pouring and plug it in again.",
    "nonsense": "What the scale sends cannot be read: stop pouring, look at its speed and cable.",
    "overload": "The scale shows overload: stop pouring and take something off it.",
    "scale-error": "The scale reports an error of its own: stop pouring.",
    "unit": "The scale changed its unit: set it back to the one the cup was tared in.",
    "tared": "Tare was pressed on the scale: clear it there, the program keeps the tare itself.",
    "restarted": "The program was cut off in mid-pour: stop pouring, and let the weight rest.",
    "untared": "The scale's own tare was cleared, with which the cup was weighed: hands off, or "
    "go on, and the batch stays unproven.",
    "lifted": "The cup is off the scale, or zero was pressed: put the cup back.",
}

FAULT_REASON = {
    FaultKind.OVERLOAD: "overload",
    FaultKind.UNDERLOAD: "lifted",
    FaultKind.SCALE_ERROR: "scale-error",
    FaultKind.REFUSED: "nonsense",
    FaultKind.NONSENSE: "nonsense",
    FaultKind.LINK: "link",
}

CUP_OFF = (
    "The cup is off the scale: put it back. If it stands there, the scale took it for zero: lift "
    "it, zero the empty scale and put it back; or go on, and the batch stays unproven."
)
CUP_IS_OFF = (
    "The cup is off the scale: put it back. If it stands there, zero was pressed: lift it, zero "
    "the empty scale and put it back."
)
KEEP_OFF = (
    "The cup is off the scale: keep it off until the empty scale rests at zero, then put it back."
)
PAN_RESTLESS = (
    "The empty scale does not come to rest: keep draughts and shaking off it, and zero it. If that "
    "does not help, put the cup back and go on: the batch stays unproven."
)
GOES_ON = "The batch that was cut off goes on; drop it if its cup is gone."
CUT_OFF_CUP = (
    "The batch that was cut off goes on: put its cup back, or drop it if that is gone. If the cup "
    "stands there, the scale took it for zero: lift it, zero the empty scale and put it back."
)
NOT_THE_SAME = (
    "The weight is not what it was. Lift the cup until the empty scale shows zero, then put it "
    "back; or go on, and the batch stays unproven."
)
UNSETTLED = "Let the weight come to rest."
LESS_THAN_NOTHING = (
    "The empty scale shows less than nothing: it took the cup for zero. Zero it now, wait until it "
    "shows zero, then put the cup back."
)
PAN_NOT_ZERO = (
    "The empty scale does not show its zero: something lies on it, or zero was pressed before it "
    "had settled. Wipe it, zero it now, and then put the cup back."
)
ON_TRUST_SOON = (
    "The weight is not what it was. Hands off, and the pour goes on with it, unproven; or lift the "
    "cup, zero the empty scale and put it back."
)
RESTLESS = (
    "The scale does not come to rest: keep hands, draughts and shaking off it, and let nothing "
    "touch the cup."
)
JUST_TOLD = "You have just been told to pour, and the scale is late: go again once it stands."
DRIPS_YET = "Let the jug drip out first: what falls in the stir is not weighed. Then go again."
MAY_BE_COARSER = (
    "the scale may count by more than its last digit, and too few weights were seen to tell"
)
