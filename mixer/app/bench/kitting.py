"""Before a batch that is asked for by its cloth: kits are scanned, or the dry cloth is weighed.

Nothing is begun yet, and nothing recorded. Scans add up; what lies on the scale
(:mod:`mixer.app.bench.lying`) is the cloth that was scanned, or cloth without a tag. What is to be
mixed of it is thought out beside and said; ``go`` takes it, ``hold`` begins anew. It must never
take an empty cup for cloth without saying so, nor a size that was not said, nor any while the
weight that stands cannot be that of the kits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from mixer import units
from mixer.app.bench import paint
from mixer.app.bench.hearing import Hearing, no_weight
from mixer.app.bench.kit_size import Asked, Found, size_of
from mixer.app.bench.lying import Lying
from mixer.app.bench.tag_words import answer as answered
from mixer.app.clock import Clock
from mixer.app.life.seer import Seer
from mixer.app.picture import Picture, Row, ScaleView
from mixer.app.request import Request
from mixer.app.resolve import Order, parsed, resolve, scale_of
from mixer.app.sentence import sentence
from mixer.plan.tags import Kit
from mixer.pour.inputs import Cut, Input, Key, Tick, Weighed
from mixer.pour.observe import observe
from mixer.pour.sight import Sight

SCAN = "Scan the kits of the next plies, or lay their dry cloth on the empty scale."
SCAN_TYPED = "Scan the kits of the next plies, or type what their dry cloth weighs: kit 412g."
TAKEN_OFF = "The scale is empty: lay the dry cloth on it, and say go while it lies there."
RECKONED = "One moment: it is being reckoned."
OTHER = " The record will say {}, by its kits, whatever was given as the layup."
MOST_UG = 50_000_000_000
A_DAY = timedelta(days=1)  # of an older batch its kit has cured: it was another by that name
AT_ONCE = 20  # kits; no batch is for more


class Kitting:
    """``status`` is set where it ends without a batch; ``taken`` is what ``go`` took, and
    ``order`` makes a batch of it. ``most_ug``: what the scale itself says that it carries."""

    def __init__(
        self,
        request: Request,
        order: Order,
        record: Path,
        clock: Clock,
        deliver: Callable[[object], None],
        scanned: Sequence[Kit],
    ) -> None:
        self.status: int | None = None
        self.refusal = ""
        self.most_ug: int | None = None
        self.taken: Found | None = None
        self._request, self._order, self._record, self._clock = request, order, record, clock
        self._seer = Seer(deliver)
        self._hearing = Hearing(clock, None)
        self._sight, self._kits = Sight(), list[Kit]()
        self._lying = Lying()
        self._asked: Asked | None = None
        self._found: Found | None = None
        self._answer, self._stands = "", ""  # to the last word; what was reckoned, or why not
        self._rings = 0
        for kit in scanned:
            if not self._twice(kit):
                self._kits.append(kit)
        self._think()

    def take(self, happened: Input) -> bool:
        """Whatever happens. True where there is something new to show."""
        self._hearing.take(happened)
        before = self._sight
        self._sight = observe(before, happened, following=False)
        match happened:
            case Key():
                self._hear(happened)
            case Cut():
                self._end(1, "Nothing was begun.")
            case Weighed():
                self._weigh()
            case Tick() if not self._order.typed and before.last is None:
                if self._hearing.is_overdue(happened.at_s):
                    self._end(3, no_weight(self._order, self._sight))
        return not isinstance(happened, Tick)

    def heed(self, most_ug: int | None) -> None:
        """The scale itself says that it carries so much."""
        if most_ug is not None and most_ug != self.most_ug:
            self.most_ug = most_ug
            self._think()

    def collect(self) -> bool:
        """Take what was thought out; whether there is something new to show."""
        news = False
        for asked, found in self._seer.take():
            if asked != self._asked:
                continue  # something was scanned since
            news, self._asked = True, None
            self._found = found if isinstance(found, Found) else None
            if isinstance(found, Found):
                other = "" if self._is_of_it(found) or not self._request.layup else OTHER
                self._stands = found.say + other.format(found.layup)
            elif isinstance(found, ValueError):
                self._stands = sentence(found)
            else:
                self._stands = f"That could not be reckoned ({type(found).__name__})."
            self.tell("", heard=self._found is None)
        return news

    def order(self, found: Found) -> Order:
        """The batch, once this was taken. Raises :class:`mixer.app.resolve.Refused`."""
        asked = self._request
        request = replace(
            asked,
            size=f"{found.size_ug / 1e6:.1f} g",
            left=None,  # it was counted, or a fresh lot was asked for
            layup=asked.layup if self._is_of_it(found) else found.layup,
            plies=found.plies or (asked.plies if found.layup is None else None),
        )
        order = resolve(request)
        order.about["kits"] = found.kept()
        return order if self.most_ug is None else order.on_scale_of(self.most_ug)

    def _is_of_it(self, found: Found) -> bool:
        """Whether what was said of the layup is what its kits say, or all that is."""
        said = (self._request.layup or "").strip().lower()
        return found.layup is None or said == found.layup

    def picture(self) -> Picture:
        """The bench as it stands now."""
        now_s = self._clock.age_s()
        scale = ScaleView("typed") if self._order.typed else paint.scale_view(self._sight, now_s)
        found, recipe = self._found, self._order.terms.recipe
        return Picture(
            stage="cup",
            cue="wait" if found is None else "go",
            say=self._said,
            size_ug=None if found is None else found.size_ug,
            asks_cloth=True,
            rows=tuple(
                Row(
                    name=component.name,
                    role=component.role,
                    parts=component.parts,
                    net_ug=None,
                    target_ug=None if found is None else round(found.size_ug * recipe.share(at)),
                    settled=False,
                )
                for at, component in enumerate(recipe.components)
            ),
            division_ug=self._sight.division_ug or None,
            scale=scale,
            rings=self._rings,
            **paint.titles(self._order),
        )

    @property
    def _said(self) -> str:
        """What was answered last, and all that stands of what go takes or why it takes nothing:
        an answer hides no size and no warning."""
        return f"{self._answer} {self._stands}".strip() or self._start

    @property
    def _start(self) -> str:
        return SCAN_TYPED if self._order.typed else SCAN

    def close(self) -> None:
        """Nothing more is thought out."""
        self._seer.close()

    def _end(self, status: int, sentence: str) -> None:
        self.status, self.refusal = status, sentence

    def tell(self, said: str, *, heard: bool = False) -> None:
        """Answer this, before what stands; empty: that alone, or what is to be done."""
        self._answer = said
        self._rings += heard

    def _hear(self, key: Key) -> None:
        match key.word:
            case "drop":
                self._end(1, "Nothing was begun.")
            case "hold":
                self._kits = []
                self._lying.begin_anew()
                self._leave("")
            case "go" if self._found is None:
                self.tell("", heard=bool(self._stands) and self._asked is None)
            case "go":
                self.taken = self._found
            case "air":
                self._warm(key.text)
            case "kit" if key.text[:1] in set("0123456789.+-"):
                self._typed(key.text)
            case "kit" | "jug":
                self._scan(key.text)
            case _ if said := answered(key, None):
                self.tell(said.text, heard=said.heard)
            case _:
                self.tell(f"{key.word} is for later. {self._start}")

    def _scan(self, text: str) -> None:
        said = answered(Key(0, "jug", text), None)
        kit = said.kit if said is not None else None
        if kit is None:
            none = f"{units.shown(text)} is no tag of a kit: {self._start}" if text else self._start
            self.tell(said.text if said is not None else none, heard=True)
            return
        if twice := self._twice(kit):
            self.tell(f"Ply {twice[0]} of {kit.name} was scanned already.", heard=True)
        elif len(self._kits) >= AT_ONCE:
            self.tell(f"{AT_ONCE} kits were scanned: go takes them, hold begins anew.", heard=True)
        else:
            self._kits.append(kit)
            self._think()

    def _twice(self, kit: Kit) -> list[int]:
        """Which of its plies were scanned before."""
        before = {ply for known in self._kits if known.name == kit.name for ply in known.plies}
        return sorted(before.intersection(kit.plies))

    def _warm(self, text: str) -> None:
        try:
            air_c = parsed("air_c", text)
        except units.UnitsError as error:
            self.tell(sentence(error), heard=True)
            return
        self._request = replace(self._request, air=text)
        self.tell(f"The air is at {air_c:g} degC. {self._start}")
        self._think()

    def _typed(self, text: str) -> None:
        try:
            cloth_ug = units.mass_ug(text, "kit")
        except units.UnitsError as error:
            self.tell(sentence(error), heard=True)
            return
        if not 0 < cloth_ug <= MOST_UG:
            self.tell(f"kit: {units.shown(text)} is no cloth; give such as kit 412g.", heard=True)
            return
        self._lying.type(cloth_ug)
        self._think()

    def _weigh(self) -> None:
        match self._lying.see(self._sight):
            case "unknown" if not (self._answer or self._stands):
                self.tell("What lies on the scale? Take it off until it shows its zero.")
            case "empty" if not self._kits:
                self._leave(TAKEN_OFF)
            case "cloth" | "empty":
                self._think()

    def _leave(self, said: str) -> None:
        """There is nothing to be reckoned any more."""
        self._found, self._asked, self._stands = None, None, said
        self.tell("")

    def _think(self) -> None:
        """Have it reckoned."""
        if not self._kits and self._lying.cloth_ug is None:
            return
        asked, self._found, self._stands = self._request, None, RECKONED
        self._asked = Asked(
            tuple(self._kits),
            self._lying.cloth_ug,
            asked.resin,
            asked.cup,
            scale_of(asked),
            asked.air,
            self._record,
            self.most_ug,
            asked.left,
            (datetime.fromisoformat(self._clock.utc()) - A_DAY).isoformat(),
            self._lying.typed,
        )
        self.tell("")
        self._seer.ask(self._asked, partial(size_of, self._asked))
