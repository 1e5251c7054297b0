"""Each fact as a line for a person who has never seen the program.

Pure. A kind that is not known, and a fact that lacks what its kind should have, is told
by its bare data: nothing that stands in the record is left out, and nothing in it ever
ends the telling. The lines hold texts as they were typed: who shows them on a terminal
makes what is not printable visible.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from typing import Any

from mixer.record.corrections import grams, label, read, told
from mixer.record.envelope import Entry
from mixer.record.later import KINDS, line
from mixer.record.later import read as read_later

#: Characters of bare data; all of it is in the JSON form.
LONGEST = 300

Plain = dict[str, Any]
Components = Sequence[Plain]


def tell(entry: Entry, components: Components, typed: bool = False) -> str:
    """What this fact says; ``components`` are those of the batch's recipe, ``typed``: its
    weights were typed in.

    >>> tell(Entry("tared", {"tare_ug": 12_300_000}, 0, "", "", 1, ""), [])
    'the empty cup weighs 12.3 g'
    >>> tell(Entry("sung", {"song": "low"}, 0, "", "", 1, ""), [])
    'sung {"song": "low"}'
    """
    data = {**entry.data, "typed": True} if typed else entry.data
    try:
        return _KINDS[entry.kind](data, components, entry.utc)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError):
        bare = json.dumps(entry.data, ensure_ascii=False)
        bare = bare if len(bare) <= LONGEST else f"{bare[:LONGEST]}…"
        return f"{entry.kind} {bare}"


def _opened(data: Plain, components: Components, utc: str) -> str:
    where = " on a simulated bench" if data.get("bench") == "simulated" else ""
    return f"begun{where}: {_g(data['size_ug'])} of {_word(data['resin_system'])} asked for"


def _tared(data: Plain, components: Components, utc: str) -> str:
    if data.get("typed") and data["tare_ug"] == 0:
        return f"the scale was zeroed with the empty cup on it{_scale(data)}"
    return f"the empty cup weighs {_g(data['tare_ug'])}{_scale(data)}"


def _called(data: Plain, components: Components, utc: str) -> str:
    more = "more " if data["addition"] else ""
    target, low, high = (_near(data[name]) for name in ("target_ug", "low_ug", "high_ug"))
    return f"{more}{_name(data, components)} asked for: {target} (within {low} to {high})"


def _jug(data: Plain, components: Components, utc: str) -> str:
    read, asked = _name(data, components), _name({"component": data["called"]}, components)
    if read == asked:
        return f"the tag of the {read}'s jug was read: the right one"
    return f"the tag of the {read}'s jug was read, where {asked} is asked for: the wrong one"


def _begun(data: Plain, components: Components, utc: str) -> str:
    if data.get("typed"):
        return f"{_name(data, components)} may run into the cup from here on"
    return f"{_name(data, components)} begins to run into the cup"


def _accepted(data: Plain, components: Components, utc: str) -> str:
    astray = data.get("astray_ug")
    either = f"; {_g(astray)} of it may be of the component called next" if astray else ""
    return f"{_name(data, components)} accepted: {_g(data['net_ug'])} in all{_scale(data)}{either}"


def _lost(data: Plain, components: Components, utc: str) -> str:
    return f"{_g(data['from_ug'] - data['gross_ug'])} is gone from the cup{_scale(data)}"


def _gained(data: Plain, components: Components, utc: str) -> str:
    return f"the cup came back with {_g(data['gross_ug'] - data['from_ug'])} more{_scale(data)}"


def _waited(data: Plain, components: Components, utc: str) -> str:
    name, for_s = _name(data, components), data["for_ms"] / 1000
    if data["why"] == "restless":
        return f"the weight did not come to rest for {for_s:g} s, {name} being asked for"
    return f"nothing was poured for {_min(for_s)} min with hardener in, {name} being asked for"


def _capped(data: Plain, components: Components, utc: str) -> str:
    if data["most_ug"] is None:
        return "no cap of heat and time holds for what puts a ratio right"
    return f"with what puts a ratio right, no more than {_near(data['most_ug'])}: heat, and time"


def _parting(data: Plain, components: Components, utc: str) -> str:
    for_s = data["stir_ms"] / 1000
    return f"no room to put it right: to be stirred for {for_s:g} s, and a part taken out"


def _parted(data: Plain, components: Components, utc: str) -> str:
    amounts = zip(components, data["amounts_ug"], strict=True)
    left = ", ".join(f"{_word(c['name'])} {_near(mass)}" for c, mass in amounts)
    out = _g(data["from_ug"] - data["gross_ug"])
    return f"{out} of the stirred mix taken out{_scale(data)}; left are {left}"


def _held(data: Plain, components: Components, utc: str) -> str:
    return f"held ({_word(data['reason'])}): {_word(data['say'])}"


def _resumed(data: Plain, components: Components, utc: str) -> str:
    return f"goes on after a hold ({_word(data['reason'])}; {_word(data['how'])})"


def _doubted(data: Plain, components: Components, utc: str) -> str:
    return f"its weights cannot be shown to be right: {_word(data['why'])}"


def _kept(data: Plain, components: Components, utc: str) -> str:
    return "used although it is out of band or without room, as the builder said"


def _learned(data: Plain, components: Components, utc: str) -> str:
    hand_ms, drip_ug = data["hand_ms"], data["drip_ug"]
    shown = [] if hand_ms is None else [f"the hand takes {hand_ms / 1000:.2f} s to stop it"]
    shown += [] if drip_ug is None else [f"{_near(drip_ug)} drips after it"]
    return f"learned of {_name(data, components)}, for later cues: {', '.join(shown) or 'nothing'}"


def _noted(data: Plain, components: Components, utc: str) -> str:
    reason = data.get("reason")
    later = f", added later because {_word(reason)}" if reason else ""
    return f"note: {_word(data['text'])}{later}"


def _stirring(data: Plain, components: Components, utc: str) -> str:
    return f"everything is in the cup; to be stirred for {data['stir_ms'] / 1000:g} s"


def _foretold(data: Plain, components: Components, utc: str) -> str:
    room = ", then ".join(f"{air_c:g} degC" for _, air_c in data["air"])
    room += " (taken for that: nobody said how warm it is)" if data["assumed"] else ""
    what = f"of {_near(data['mass_ug'])} in air of {room}"
    if "cup" in data:
        share = _near(data["shared"][-1][1])
        what = f"of cup {int(data['cup'])}, at most {share} of {what.removeprefix('of ')}"
    if data["why"] is not None:
        return f"no time could be foretold {what}: {_word(data['why'])}"
    low, high, peak = (_min(data[name]) for name in ("low_s", "high_s", "peak_s"))
    course = "runs away" if data["runaway"] else "does not run away"
    return (
        f"foretold {what}: to be used within {low} to {high} min of first contact; hottest "
        f"{data['peak_c']:.0f} degC after {peak} min, {course}"
    )


def _measured(data: Plain, components: Components, utc: str) -> str:
    return f"the air is at {data['air_c']:g} degC (typed in: “{_word(data['text']).strip()}”)"


def _thickened(data: Plain, components: Components, utc: str) -> str:
    return f"cup {int(data['cup'])} is thickening, {_min(data['age_s'])} min after first contact"


def _live(data: Plain, components: Components, utc: str) -> str:
    return f"live as cup {int(data['cup'])}: {_verdict(data)}"


def _ended(data: Plain, components: Components, utc: str) -> str:
    return f"ended without a live cup ({_word(data['how'])}): {_verdict(data)}"


def _closed(data: Plain, components: Components, utc: str) -> str:
    left, cup = data.get("left_ug"), data.get("cup")
    which = "cup" if cup is None else f"cup {int(cup)}"
    return f"{which} closed ({_word(data['how'])}{'' if left is None else f': {_g(left)}'})"


def _weighing(data: Plain, components: Components, utc: str) -> str:
    if data["component"] is None:
        return "the jug that was to be weighed is not"
    return f"the {_name(data, components)}'s jug is to be weighed"


def _jug_weight(data: Plain, components: Components, utc: str) -> str:
    when = "after" if data["after"] else "before"
    scale = _scale(data) if data["weights"] == "scale" else " (typed in)"
    line = f"the {_name(data, components)}'s jug weighs {_g(data['mass_ug'])} {when}{scale}"
    if data.get("left_ug") is None:
        return line
    return f"{line}: {_g(data['left_ug'])} left it, {_g(data['due_ug'])} of it is in the cup"


def _splitting(data: Plain, components: Components, utc: str) -> str:
    return "to be split into several cups once it is stirred"


def _shared(data: Plain, components: Components, utc: str) -> str:
    layup = f"; for {_word(data['layup'])}" if data.get("layup") else ""
    return f"a share of cup {int(data['of'])} is in cup {int(data['cup'])}: {_weighed(data)}{layup}"


def _filled(data: Plain, components: Components, utc: str) -> str:
    start = data.get("start_ug")
    advised = "" if start is None else f"; {_near(start)} was advised to start with"
    name = _word(data["filler"])
    return f"{name} went into cup {int(data['cup'])}: {_weighed(data)}{advised}"


def _moved(data: Plain, components: Components, utc: str) -> str:
    cup = data.get("cup")
    of = "all" if cup is None else f"all that was in cup {int(cup)}"
    return f"{of} was scraped into a second, clean cup"


def _divided(data: Plain, components: Components, utc: str) -> str:
    ended = {"go": "all is shared", "interrupted": "the sharing was cut short"}
    return ended.get(data["how"], _word(data["how"]))


def _emptied(data: Plain, components: Components, utc: str) -> str:
    return f"{_closed(data, components, utc)}; others of this batch are live"


def _weighed(data: Plain) -> str:
    if data["mass_ug"] is None:
        return "not weighed"
    scale = _scale(data) if data.get("weights") == "scale" else " (typed in)"
    return f"{_g(data['mass_ug'])}{scale}"


def _traced(data: Plain, components: Components, utc: str) -> str:
    return f"{int(data['readings'])} weights are kept as its trace, sealed by {_word(data['hash'])}"


def _entered(data: Plain, components: Components, utc: str) -> str:
    amounts = zip(components, data["amounts_ug"], strict=True)
    masses = ", ".join(f"{_word(c['name'])} {_g(mass)}" for c, mass in amounts)
    system, mixed = _word(data["resin_system"]), _word(data["mixed_at"])
    note = f"; note: {_word(data['note'])}" if data.get("note") else ""
    return f"typed in later: {system}, {masses}, mixed at {mixed}; {_verdict(data)}{note}"


def _later(kind: str) -> Callable[[Plain, Components, str], str]:
    def tell_it(data: Plain, components: Components, utc: str) -> str:
        one = read_later(kind, data)
        if one is None:
            raise ValueError("nothing that can be made out")
        return f"{one.name}: {line(one)}"

    return tell_it


def _corrected(data: Plain, components: Components, utc: str) -> str:
    one = read(data, utc)
    if one is None:
        raise ValueError("no correction")
    change = f"{label(one, components)}: {told(one, one.was)} -> {told(one, one.value)}"
    return f"corrects fact {int(data['of_seq'])}: {change}, because {_word(data['reason'])}"


def _verdict(data: Plain) -> str:
    because = data.get("unproven_because")
    actual = data.get("ratio_actual")
    ratio = "" if actual is None else f", ratio 100 : {actual:.2f}"
    target = f" (target 100 : {data['ratio_target']:g})"
    return f"{_word(data['verdict'])}{ratio}{target}{f'; {_word(because)}' if because else ''}"


def _name(data: Plain, components: Components) -> str:
    index = data["component"]
    if not 0 <= index < len(components):
        return f"component {index + 1}"
    return _word(components[index]["name"])


def _g(mass_ug: int) -> str:
    if type(mass_ug) is not int:
        raise TypeError("no mass")
    return f"{grams(mass_ug)} g"


def _near(mass_ug: int) -> str:
    """A mass that was reckoned, to a hundredth of a gram; the JSON form has all of it."""
    return _g(round(mass_ug, -4))


def _min(seconds: float) -> str:
    """Minutes, to a tenth."""
    return f"{seconds / 60:.1f}"


def _scale(data: Plain) -> str:
    text = data.get("text")
    if isinstance(text, str) and data.get("typed"):
        return f" (typed in: “{text.strip()}”)"
    return f" (the scale said “{text.strip()}”)" if isinstance(text, str) else ""


def _word(text: str) -> str:
    if not isinstance(text, str):
        raise TypeError("no text")
    return text


_KINDS: dict[str, Callable[[Plain, Components, str], str]] = {
    "opened": _opened,
    "tared": _tared,
    "called": _called,
    "jug": _jug,
    "begun": _begun,
    "accepted": _accepted,
    "lost": _lost,
    "gained": _gained,
    "parting": _parting,
    "parted": _parted,
    "held": _held,
    "resumed": _resumed,
    "doubted": _doubted,
    "waited": _waited,
    "capped": _capped,
    "kept": _kept,
    "learned": _learned,
    "noted": _noted,
    "stirring": _stirring,
    "foretold": _foretold,
    "foretold-share": _foretold,
    "measured": _measured,
    "thickened": _thickened,
    "live": _live,
    "ended": _ended,
    "weighing": _weighing,
    "jug-weight": _jug_weight,
    "splitting": _splitting,
    "shared": _shared,
    "filled": _filled,
    "moved": _moved,
    "divided": _divided,
    "emptied": _emptied,
    "closed": _closed,
    "traced": _traced,
    "entered": _entered,
    **{kind: _later(kind) for kind in KINDS},
    "corrected": _corrected,
}
