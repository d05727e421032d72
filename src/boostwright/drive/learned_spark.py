"""What a drive taught of knock, as far as a table of sparks may believe it: towards later sparks only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from boostwright.build.document import Build
from boostwright.drive.learned import Learned, learned_build

__all__ = ["EITHER", "LATER", "CarefulBuild", "careful_build"]

LATER: Final = ("model.knock", "model.burn")  # more of either: knock-limited spark is later in every cell
EITHER: Final = ("model.knock_warmth", "model.heat")  # they move it later in some cells, earlier in others


@dataclass(frozen=True, slots=True)
class CarefulBuild:
    """A build for the spark table, and which learned fields move together in it.

    left: fields that the drive moved and the tables leave as they were.
    """

    build: Build
    together: dict[tuple[str, str], float]
    left: tuple[str, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """What the page says of it; nothing where nothing was left."""
        if not self.left:
            return ()
        return (
            (
                "What the drive taught of knock and burning was not taken into these tables where it could"
                " move spark earlier, and it narrowed no margin: a drive without knock does not prove where"
                " knock begins."
            ),
        )


def careful_build(build: Build, learned: Learned) -> CarefulBuild:
    """The build with what a drive taught, except what could move the table's spark earlier.

    Knock's factor and burn speed are taken over only where they rose, with the spread from before; wall heat
    and knock's growth with heat not at all, since they move spark either way from cell to cell. The rest is
    as `learned_build` gives it.
    """
    careful = learned_build(build, learned)
    stated, assumed, left = dict(careful.values), {}, []
    for line in learned.fields:
        new = careful.get(line.name)
        if new is None:
            continue
        old = build.get(line.name)
        if line.name in LATER + EITHER and old is not None and new != old:
            rose = line.name in LATER and new.value > old.value
            new = replace(new, sd=old.sd) if rose else old
            if not rose:
                left.append(line.name)
        if build.is_stated(line.name):
            stated[line.name] = new
        elif new != old:
            assumed[line.name] = new
    own = set(LATER + EITHER)
    together = {pair: value for pair, value in learned.together().items() if not set(pair) & own}
    return CarefulBuild(replace(build, values=stated, _defaults=assumed), together, tuple(left))
