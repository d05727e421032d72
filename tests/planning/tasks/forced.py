"""Conditions answered by decree: any combination, whatever a build says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

import pytest

from boostwright.planning.tasks import conditions
from boostwright.planning.tasks.conditions import Answer, Condition
from boostwright.planning.tasks.ground import Ground


def _always(holds: bool) -> Condition:
    def rule(ground: Ground) -> Answer:
        return Answer(holds, "said so by the test")

    return rule


@contextmanager
def forced(answers: Mapping[str, bool]) -> Iterator[None]:
    """Within it each named condition gives the named answer."""
    with pytest.MonkeyPatch.context() as patch:
        for name, holds in answers.items():
            patch.setitem(conditions._CONDITIONS, name, _always(holds))
        yield
