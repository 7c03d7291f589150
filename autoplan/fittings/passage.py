"""From a part's bore to hydraulics: what a chain of adaptors or a narrower place puts in the water's way."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from autoplan.catalog.joining import adaptor_like
from autoplan.catalog.parts import Catalog
from autoplan.hydraulics.conduit import Resistance
from autoplan.hydraulics.fittings import passage_k

_passage_k = lru_cache(maxsize=None)(passage_k)
# A plan asks for the K of a few hundred fittings tens of thousands of times.


def smallest_bore(catalog: Catalog, parts: Sequence[str]) -> float:
    """Smallest passage [m] through a chain of adaptors and pipe stubs; infinite for an empty chain."""
    return min((adaptor_like(catalog, part).bore_m for part in parts), default=float("inf"))


def least_rating(catalog: Catalog, parts: Sequence[str]) -> float:
    """Least pressure rating [m of water] in a chain of adaptors and pipe stubs; infinite if empty."""
    return min((adaptor_like(catalog, part).rating_m for part in parts), default=float("inf"))


def passage(before_m: float, narrow_m: float, after_m: float) -> Resistance | None:
    """The resistance of a narrower passage between two bores [m], or None where nothing narrows or widens."""
    narrow = min(narrow_m, before_m, after_m)
    k = _passage_k(before_m, narrow, after_m)
    return Resistance(k, narrow) if k > 0 else None


def passage_loss(before_m: float, narrow_m: float, after_m: float, flow_m3_s: float) -> float:
    """Loss [m] through adaptors of smallest bore `narrow_m` between two bores [m], at a flow [m3/s]."""
    resistance = passage(before_m, narrow_m, after_m)
    return 0.0 if resistance is None else resistance.loss(flow_m3_s)
