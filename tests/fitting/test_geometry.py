"""What unknown valves, cams and runners do to the charge, as a spread of breathing."""

from __future__ import annotations

import numpy as np

from boostwright.fitting.geometry import breathing_spread
from boostwright.systems.engine.types import ModelFactors, OperatingPoints
from tests.labels import check
from tests.truth.invent import class_build, with_values

RPM = np.pi / 30.0
POINTS = OperatingPoints(np.array([1500.0, 3000.0, 4500.0, 6000.0]) * RPM, 97e3, 298.0, 104e3, 0.9, -0.35)


@check("limit", note="nothing unknown, nothing spread; an unknown cam moves charge, and by cams' few percent")
def test_spread_follows_what_is_not_known() -> None:
    usual = breathing_spread(class_build("four-valve"), POINTS, ModelFactors())
    cams = [path for path in usual.fields if path.endswith(("opens", "closes"))]
    assert cams
    assert np.allclose(usual.covariance, usual.covariance.T)
    assert (np.linalg.eigvalsh(usual.covariance) > -1e-12).all()
    level, slope, curve = np.sqrt(np.diag(usual.covariance))
    assert 0.003 < level < 0.1
    assert 0.003 < slope < 0.1
    assert curve < 0.1
    assert (usual.left < 0.03).all()


@check("limit", note="an engine of which everything is measured exactly leaves breathing to its own factors")
def test_nothing_unknown_nothing_spread() -> None:
    from boostwright.library.unknowns import unknown_rules

    usual = class_build("four-valve")
    known = {
        path: float(value.value)
        for path in unknown_rules().absorbed
        if (value := usual.get(path)) is not None and not isinstance(value.value, str | tuple)
    }
    sure = breathing_spread(with_values(usual, known), POINTS, ModelFactors())
    assert sure.fields == ()
    assert not sure.covariance.any()
    assert not sure.left.any()
