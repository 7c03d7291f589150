"""Many lines at once lose what each would alone."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from autoplan.hydraulics.conduit import Conduit, Resistance, Stretch
from autoplan.hydraulics.conduits import Conduits
from autoplan.hydraulics.water import water_at

WATER = water_at(20.0)
RESISTANCES = st.lists(
    st.builds(Resistance, st.floats(0.0, 30.0), st.floats(0.006, 0.1), st.sampled_from([0.0, 0.4, 1.4])),
    max_size=5,
).map(tuple)
STRETCHES = st.lists(
    st.builds(Stretch, st.floats(0.012, 0.1), st.just(1.5e-6), st.floats(0.0, 2.0)), max_size=2
).map(tuple)
LINES = st.lists(
    st.builds(
        Conduit,
        st.sampled_from([0.017, 0.0288, 0.0452]),
        st.sampled_from([0.0, 1.5e-6, 2e-5]),
        st.floats(0.0, 30.0),
        RESISTANCES,
        STRETCHES,
    ),
    max_size=8,
)


@given(
    lines=LINES,
    flow=st.one_of(st.just(0.0), st.floats(1e-7, 3e-3)),
    grown=st.sampled_from([0.0, 1e-5, 1.5e-4, 0.003]),
)
def test_each_loses_what_it_would_alone(lines: Sequence[Conduit], flow: float, grown: float) -> None:
    """The array holds every line's own loss, to rounding, from slow to fast, as new or with growth."""
    together = Conduits(lines).loss(flow, WATER, grown)
    alone = [line.loss(flow, WATER, grown) for line in lines]
    assert together.tolist() == pytest.approx(alone, rel=1e-12, abs=0.0)


def test_a_bore_that_is_none_is_refused() -> None:
    """A fitting without a bore is refused as it is for one line, with a flap or without."""
    for lifts in (0.0, 1.0):
        with pytest.raises(ValueError, match="bore must be positive"):
            Conduits([Conduit(0.02, 0.0, 1.0, (Resistance(1.0, 0.0, lifts),))])
