"""The scale behind an order, and for ``sim:`` the bench that is simulated behind it.

Opened as one, ended as one. It must never leave a port, a process or a thread behind
when something on the way fails.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from devices.dialects.sma import Sma
from devices.link import LineSettings, Link, LinkError, open_link
from devices.readings import Said
from devices.scale import Scale
from mixer.app.clock import Clock
from mixer.app.picture import Picture
from mixer.app.resolve import Order
from mixer.app.sentence import sentence

if TYPE_CHECKING:
    from mixer.app.bench.simulated import Simulation
    from mixer.app.bench.visitor import Visitor


class Hookup:
    """A live scale that hands what it says to ``deliver`` (see :class:`devices.scale.Scale`).

    Raises :class:`devices.link.LinkError` where the port cannot be opened. A
    ``visitor`` works the jugs of a simulated bench in the place of its person, and
    ``left_ug`` is what stands on its pan from before, cup and all.
    """

    def __init__(
        self,
        order: Order,
        clock: Clock,
        deliver: Callable[[Said], None],
        visitor: Visitor | None = None,
        left_ug: int | None = None,
    ) -> None:
        self._simulation: Simulation | None = None
        url = order.port
        if order.simulated:
            from mixer.app.bench.simulated import Simulation  # a real scale need not wait for it

            try:
                self._simulation = Simulation(order, clock.speed, visitor=visitor, left_ug=left_ug)
            except (OSError, ValueError) as error:
                say = f"There is no simulated bench: {sentence(error)}"
                raise LinkError("missing", say) from error
            url = self._simulation.url
        profile = order.scale
        line = LineSettings(profile.baud, profile.bytesize, profile.parity, profile.stopbits)
        try:
            # Opened here, so that a port that cannot be is known before a batch is begun.
            ready: list[Link] = [open_link(url, line)]
        except LinkError:
            self._end_simulation()
            raise

        def opener() -> Link:
            return ready.pop() if ready else open_link(url, line)

        dialect = Sma(profile.ask)
        least_ug = 0 if order.simulated else profile.division_ug or 0
        self._scale = Scale(
            opener, dialect, clock.age_s, deliver, speed=clock.speed, least_division_ug=least_ug
        )

    def show(self, picture: Picture) -> None:
        """What the hands at a simulated bench see; nothing where a person stands there."""
        if self._simulation is not None:
            self._simulation.show(picture)

    def close(self) -> None:
        """Free the port; end the simulated bench."""
        self._scale.close()
        self._end_simulation()

    def _end_simulation(self) -> None:
        if self._simulation is not None:
            self._simulation.close()
