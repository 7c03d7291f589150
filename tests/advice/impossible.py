"""Problems drawn at random that have no design, and plain bisection on their files."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import autoplan
from autoplan.catalog.parts import Catalog
from tests.searched import searched
from tests.short_list import from_shorter_list

Heights = dict[str, float]
"""What of a problem file is changed, by a word for it: floors [mm], the sump's volume [L]."""

PROBLEM = """
name = "Drawn at random"
[tank]
volume = "{volume} L"
depth = "800 mm"
floor = "{tank:g} mm"
{settler}
{beds}
[sump]
volume = "{sump:g} L"
depth = "{deep} mm"
floor = "{low:g} mm"
[wishes]
turnover = "{turnover}/hour"
"""

SETTLER = """[settler]
volume = "250 L"
depth = "800 mm"
floor = "{settler:g} mm"
water_min = "{least} mm"
"""

BEDS = """[beds]
count = {count}
area = "1 m2"
floor = "{high} mm"
"""


def drawn(seed: int) -> Callable[[Heights], str]:
    """A problem, as a file with some of its numbers given; of three kinds by the seed.

    A tank too low for its settler, a sump too small for its beds, a tank below its sump's water.
    """
    draw, kind = random.Random(seed), seed % 3
    volume, turnover = draw.choice((400, 600, 900)), draw.choice((1, 1.5, 2))
    settler = draw.randrange(150, 240)
    given: Heights = {"tank": 300.0, "sump": 600.0, "low": -450.0, "settler": float(settler)}
    least, count, deep = draw.randrange(700, 719), 0, 500
    if kind == 0:
        given["tank"] = float(settler + least - 720 + draw.randrange(20))
    elif kind == 1:
        count = draw.choice((1, 2, 3))
        given["sump"] = float(draw.randrange(100, 100 * count + 50))
    else:
        count, given["tank"] = 1, float(draw.randrange(-1160, -990))
        given["sump"] = float(draw.randrange(300, 500))
    high = draw.choice((450, 550, 650))

    def written(change: Heights) -> str:
        now = {**given, **{name: given[name] + by for name, by in change.items()}}
        with_settler = SETTLER.format(settler=now["settler"], least=least) if kind == 0 else ""
        beds = BEDS.format(count=count, high=high) if count else ""
        return from_shorter_list(
            PROBLEM.format(
                volume=volume,
                tank=now["tank"],
                settler=with_settler,
                beds=beds,
                sump=now["sump"],
                deep=deep,
                low=now["low"],
                turnover=turnover,
            )
        )

    return written


def solved(folder: Path, catalog: Catalog, text: str) -> bool:
    """Whether a problem file has a design: a search to its end, from nothing."""
    path = folder / "bisected.toml"
    path.write_text(text)
    site = autoplan.load_problem(path).outline
    tried = searched(site, catalog, any_will_do=True)
    assert tried.ranking.designs or tried.ranking.ending == "none"
    return bool(tried.ranking.designs)


def bisected(works: Callable[[int], bool], told: int) -> int:
    """The least step that works, by halving from none at all up to one that does."""
    fails, least = 0, told
    assert works(told)
    while least - fails > 1:
        middle = (fails + least) // 2
        if works(middle):
            least = middle
        else:
            fails = middle
    return least
