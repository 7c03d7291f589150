"""Every kind of fitting that stands on a line between its ends, in the order in which a builder is told."""

from __future__ import annotations

from autoplan.fittings.base import Fitting
from autoplan.fittings.drain_down import DrainDown
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.riser import Riser
from autoplan.fittings.screen import InletScreen
from autoplan.fittings.strainer import Strainer
from autoplan.fittings.trim import Trim, TrimValve
from autoplan.fittings.valve import CheckValveSet, ValveSet
from autoplan.fittings.vent import Vent

OPTIONAL: tuple[type[Fitting], ...] = (InletScreen, FlushTee, Strainer, Trim, Vent, DrainDown)
"""Kinds that stand on a line only where a rule does not allow it without, by its answers or by its rows."""

TOLD: tuple[type[Fitting], ...] = (
    ValveSet,
    CheckValveSet,
    Riser,
    InletScreen,
    FlushTee,
    Strainer,
    Trim,
    TrimValve,
    Vent,
    DrainDown,
)
"""Kinds that say something of themselves; a new one goes last."""
