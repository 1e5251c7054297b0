"""One batch while it is split: the words with what was typed along, the fillers, the picture.

What it decides is in :mod:`mixer.pour.sharing`. It keeps only what is volatile; all that is
true of a cup stands in the facts.
"""

from __future__ import annotations

import re
from dataclasses import replace

from mixer import units
from mixer.app.files.cloth import load_filler
from mixer.app.files.folders import names
from mixer.app.files.toml_table import ProfileError
from mixer.app.picture import Picture, Share
from mixer.app.sentence import sentence
from mixer.plan.cloth import Mix
from mixer.pour import cups, sharing, sharing_cue
from mixer.pour.decision import Decision
from mixer.pour.fillers import Filler
from mixer.pour.inputs import Input, Key
from mixer.pour.on_scale import Sharing
from mixer.pour.sight import Sight
from mixer.pour.state import Pour
from mixer.pour.words import Advice

#: ``filler 2 wet micro 4.2 g``: the cup and the mass may be left out, and the blanks.
_FILLER = re.compile(r"(?:(\d{1,4})\s*(?=[^\d\s.]))?([^\d]*?)\s*(\d.*)?")


def with_figures(happened: Input) -> Input | str:
    """The word with its figures read, where it has any; one sentence where they are none.

    >>> key = with_figures(Key(5.0, "filler", "2 wet micro 4.2 g"))
    >>> key.cup, key.text, key.mass_ug
    (2, 'wet micro', 4200000)
    >>> with_figures(Key(5.0, "split", "30"))
    "split: '30' has no unit; give a mass such as '60 g' or '2 oz'."
    """
    if not isinstance(happened, Key) or happened.word not in ("split", "filler", "weigh"):
        return happened
    try:
        if happened.word == "weigh":
            name, _, mass = happened.text.partition(" ")
            mass_ug = units.mass_ug(mass, "weigh") if mass.strip() else None
            return replace(happened, text=name, mass_ug=mass_ug)
        if happened.word == "split":
            mass_ug = units.mass_ug(happened.text, "split") if happened.text else None
            return replace(happened, text="", mass_ug=mass_ug)
        read = _FILLER.fullmatch(happened.text)
        if read is None:  # of several lines, which no face sends
            return happened
        cup, name, mass = read.groups()
        mass_ug = units.mass_ug(mass, "filler") if mass else None
        return replace(happened, cup=int(cup) if cup else None, text=name, mass_ug=mass_ug)
    except units.UnitsError as error:
        return sentence(error)


def known_fillers() -> tuple[tuple[Filler, ...], str]:
    """All that there are, by name of profile; and what is wrong with those that cannot be
    read, in one sentence. The first of a name counts."""
    found: dict[str, Filler] = {}
    wrong = []
    for name in names("fillers"):
        try:
            for mix in load_filler(name):
                found.setdefault(mix.name, _filler(mix))
        except ProfileError as error:
            wrong.append(sentence(error))
    return tuple(found.values()), " ".join(wrong)


def _filler(mix: Mix) -> Filler:
    volumes, bulk = mix.by_volume, mix.bulk_g_ml
    about = {
        "profile": mix.filler,
        "source": mix.source,
        "volumes": [volumes.low, volumes.value, volumes.high],
        "bulk_density_g_per_ml": [bulk.low, bulk.value, bulk.high],
    }
    return Filler(mix.name, volumes.low, bulk.low, about)


class Splitting:
    """``trouble`` is what is wrong with a filler's profile, to be said once."""

    def __init__(self) -> None:
        self._sharing = Sharing()
        self._fillers: tuple[Filler, ...] | None = None
        self.trouble = ""

    @property
    def fillers(self) -> tuple[Filler, ...]:
        """Looked for when first needed: most batches need none."""
        if self._fillers is None:
            self._fillers, self.trouble = known_fillers()
        return self._fillers

    def decide(self, pour: Pour, sight: Sight, happened: Input) -> Decision:
        """What this input comes to."""
        self._sharing, decision = sharing.decide(pour, sight, self._sharing, self.fillers, happened)
        return decision

    def advise(self, pour: Pour, sight: Sight, now_s: float) -> Advice:
        """What the builder is told now."""
        return sharing_cue.advise(pour, sight, self._sharing, self.fillers, now_s)

    def on_scale(self, picture: Picture, pour: Pour, sight: Sight) -> Picture:
        """The picture with what is coming into the cup on the scale."""
        filling, tare = self._sharing.filling, self._sharing.tare
        if filling is not None:
            there, held = sharing_cue.filler_ug(filling, sight), cups.held_ug(pour, filling.cup)
            return replace(
                picture,
                component=f"{filling.filler.name} in cup {filling.cup}",
                net_ug=there,
                target_ug=filling.start_ug,
                total_ug=None if held is None else held + max(0, there or 0),
            )
        if tare is None or sight.last is None:
            return replace(picture, total_ug=cups.left_ug(pour))
        there = sight.last.mass_ug - tare.mass_ug
        return replace(picture, component="share", net_ug=there, total_ug=there)


def shares(pour: Pour) -> tuple[Share, ...]:
    """The cups of a batch that is live, its own first; none where it is one cup without
    filler."""
    if not (pour.shares or pour.filled):
        return ()
    return tuple(
        Share(
            cup,
            cups.held_ug(pour, cup),
            tuple((one.filler, one.mass_ug) for one in pour.filled if one.cup == cup),
        )
        for cup in cups.cups_of(pour)
    )
