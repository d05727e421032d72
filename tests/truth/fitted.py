"""The fit of the program, asked with what a builder logged."""

from __future__ import annotations

from boostwright import verbs
from boostwright.build.document import Build
from boostwright.fitting import Fit, fitted_build
from tests.truth.bands import Together

__all__ = ["fitted_build_of"]


def fitted_build_of(build: Build) -> tuple[Build, Together, Fit]:
    """The build after the fit, which of its values move together, and the fit. Raises as `verbs.fit`."""
    found = verbs.fit(build)
    return fitted_build(build, found, for_draws=True), found.together(), found
