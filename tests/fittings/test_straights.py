"""What stands in a straight or between two, by itself and by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from importlib import import_module
from pkgutil import iter_modules

import pytest

from autoplan import fittings
from autoplan.catalog.parts import Catalog, FixtureKind, TurnStyle
from autoplan.fittings.base import Fitting
from autoplan.fittings.corner import Corner
from autoplan.fittings.ends import AtVessel, LineEnd
from autoplan.fittings.flushing import FlushTee
from autoplan.fittings.kinds import TOLD
from autoplan.fittings.lengths import Lengths
from autoplan.fittings.riser import Riser
from autoplan.fittings.vent import Vent
from autoplan.fittings.wall import Pierced
from autoplan.hydraulics.fittings import dividing_tee_k
from tests.stored import KINDS


def every_kind() -> set[type[Fitting]]:
    """Every class of fitting that a module of the folder has."""
    modules = (import_module(found.name) for found in iter_modules(fittings.__path__, "autoplan.fittings."))
    named = (thing for module in modules for thing in vars(module).values())
    return {thing for thing in named if isinstance(thing, type) and issubclass(thing, Fitting)}


def test_every_kind_is_known() -> None:
    """A kind that could not be kept with a stored design would be lost from it without a word."""
    assert every_kind() - {Fitting, AtVessel, Pierced} == set(KINDS)


def test_what_speaks_is_told() -> None:
    """Each kind that has something to tell a builder has its place in the telling, and no other has."""
    speaks = {kind for kind in KINDS if kind.told is not Fitting.told}
    assert speaks == set(TOLD)


@pytest.mark.parametrize(("angle", "tangent"), [(90, 1.0), (45, math.sqrt(2) - 1)])
def test_pipe_that_bends_takes_its_tangent(catalog: Catalog, angle: int, tangent: float) -> None:
    """Radius x tan(angle / 2), and it may be cut where its bend ends; there is nothing to buy."""
    pipe = catalog.pipes["poly-25-metre"]
    corner, lengths = Corner(angle, TurnStyle.BEND, ()), Lengths(catalog, pipe)
    assert corner.takes_m(lengths) == corner.reach_m(lengths) == pytest.approx(pipe.bend_radius_m * tangent)
    assert (corner.parts(), corner.pieces) == ((), ())
    assert corner.words(catalog) == f"{angle} degrees by bending the pipe"


def test_a_vent_in_its_line(catalog: Catalog) -> None:
    """A tee that takes the pipe on all three sides, stop to stop what crosses in it."""
    pipe = catalog.pipes["drain-50-3m"]
    vent = Vent("drain-tee-50")
    assert vent.takes_m(Lengths(catalog, pipe)) == pytest.approx(pipe.outside_m)
    assert vent.parts() == ("drain-tee-50",)
    assert list(vent.told(catalog)) == ["vent: drain tee 50 mm, 90 degrees with an open upright pipe"]
    lost = [one for one in vent.resistances(catalog, pipe) if one is not None]
    assert all(one.k >= 0.0 for one in lost)
    assert lost[0].k == pytest.approx(dividing_tee_k("run", 1.0, 1.0, pipe.bore_m, pipe.bore_m))


def test_a_flushing_point_in_its_line(catalog: Catalog) -> None:
    """Stop to stop it takes what crosses in its tee; a tee as wide as the pipe takes nothing but its run."""
    pipe = catalog.pipes["drain-50-3m"]
    plug = next(row.id for row in catalog.fixtures.values() if row.kind is FixtureKind.PLUG)
    flush = FlushTee("drain-tee-50", plug)
    assert flush.takes_m(Lengths(catalog, pipe)) == pytest.approx(pipe.outside_m)
    as_wide = replace(catalog.tees["drain-tee-50"], bore_m=pipe.bore_m)
    wide = replace(catalog, tees={**catalog.tees, as_wide.id: as_wide})
    (run,) = [one for one in flush.resistances(wide, pipe) if one is not None]
    assert run.k == pytest.approx(dividing_tee_k("run", 1.0, 1.0, pipe.bore_m, pipe.bore_m))
    narrow = replace(catalog, tees={**catalog.tees, as_wide.id: replace(as_wide, bore_m=0.03)})
    through = [one for one in flush.resistances(narrow, pipe) if one is not None]
    assert [one.bore_m for one in through] == [0.03, 0.03]


def test_a_riser_is_a_turn_and_a_tee(catalog: Catalog) -> None:
    """Both are bought, and everything comes up the run and leaves by the branch."""
    pipe, turn = catalog.pipes["drain-50-3m"], Corner(90, TurnStyle.SWEPT, ("drain-sweep-50-90",))
    riser = Riser(turn, "drain-tee-50")
    assert (riser.corners(), riser.parts()) == ((turn,), ("drain-tee-50",))
    (branch,) = (one for one in riser.resistances(catalog, pipe) if one is not None)
    narrow = min(pipe.bore_m, catalog.tees["drain-tee-50"].bore_m)
    assert (branch.k, branch.bore_m) == (dividing_tee_k("branch", 1.0, 1.0, narrow, narrow), narrow)


def test_an_end_at_nothing_is_bought_with_nothing() -> None:
    """A line that meets another in line, without adaptors, has no part there."""
    assert LineEnd("split").parts() == ()
