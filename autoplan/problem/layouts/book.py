"""Every arrangement that there is."""

from __future__ import annotations

from collections.abc import Mapping

from autoplan.problem.layouts.base import Topology
from autoplan.problem.layouts.no_sump import NoSump
from autoplan.problem.layouts.parallel import Parallel
from autoplan.problem.layouts.series import Series
from autoplan.problem.site import Arrangement

TOPOLOGIES: Mapping[Arrangement, type[Topology]] = {each.word: each for each in (Parallel, Series, NoSump)}
"""By word, in the order in which they are tried where a problem leaves it open."""
