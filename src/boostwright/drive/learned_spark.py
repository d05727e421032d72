"""What a drive taught of knock, as far as a table of sparks may believe it: towards later sparks only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from boostwright.build.document import Build
from boostwright.drive.learned import Learned, learned_build

__all__ = ["CarefulBuild", "careful_build"]

_KNOCK: Final = ("model.knock", "model.knock_warmth")  # more of either: knock at a later spark under boost
_CYCLE: Final = ("model.burn", "model.heat")  # they move knock and MBT, either way from cell to cell


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

    Knock's factor and its growth with heat are taken over only where they rose, with the spread from before;
    burn speed and wall heat not at all, since they move knock and MBT either way. The rest is as
    `learned_build` gives it.
    """
    careful = learned_build(build, learned)
    stated, assumed, left = dict(careful.values), {}, []
    for line in learned.fields:
        new = careful.get(line.name)
        if new is None:
            continue
        old = build.get(line.name)
        if line.name in _KNOCK + _CYCLE and old is not None and new != old:
            rose = line.name in _KNOCK and new.value > old.value
            new = replace(new, sd=old.sd) if rose else old
            if not rose:
                left.append(line.name)
        if build.is_stated(line.name):
            stated[line.name] = new
        elif new != old:
            assumed[line.name] = new
    kept = _KNOCK + _CYCLE
    together = {pair: value for pair, value in learned.together().items() if not set(pair) & set(kept)}
    return CarefulBuild(replace(build, values=stated, _defaults=assumed), together, tuple(left))
