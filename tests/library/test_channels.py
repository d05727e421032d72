from boostwright.library.channels import channel_kinds
from boostwright.quantity import Dimension


def test_every_quantity_of_a_log_has_a_range_and_every_pressure_says_from_where_it_counts():
    for kind in channel_kinds().values():
        assert 2 < len(kind.short) <= 20, kind.key
        assert kind.lowest < kind.highest, kind.key
        assert (kind.pressure is not None) == (kind.dimension is Dimension.PRESSURE), kind.key
