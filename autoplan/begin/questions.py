"""The questions, in their order: what each asks for, why, and when it is asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from autoplan.begin.answers import AnswerPart, Count, Form, FreeAnswer, Measure, OneOf, Several
from autoplan.begin.usual import FILTERS, asked_as, filters_of, vessels
from autoplan.problem.tables.values import MOST_BEDS
from autoplan.units import Dimension

Said = Mapping[str, str]

SHAPES = {
    "round": "round",
    "circular": "round",
    "square": "square",
    "flat": "square",
    "rectangular": "square",
    "straight": "square",
}


class Looks(StrEnum):
    """What certainly cannot be: more water than any pump gives, or that and heights that do not sum up."""

    PUMPS = "pumps"
    HEIGHTS = "heights"


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Attributes:
        about: what it asks for, in a line.
        why: what hangs on it, in a line.
        form: the values it takes, given what was said before.
        tables: the tables of the problem file in which a mistake may be its fault; empty for all of them.
        asked: whether it is asked at all, given what was said before.
        draws: whether the levels are drawn after it.
        looks: what is looked at after it beside the file, given what was said; None for nothing.
    """

    about: str
    why: str
    form: Callable[[Said], Form]
    tables: Sequence[str] = ()
    asked: Callable[[Said], bool] = lambda _: True
    draws: bool = False
    looks: Callable[[Said], Looks | None] = lambda _: None

    def keys(self, said: Said) -> tuple[str, ...]:
        """The names of its values among the answers."""
        return tuple(part.key for part in self.form(said).parts)

    def shown(self, said: Said) -> str:
        """Its values as one would type them."""
        parts = self.form(said).parts
        texts = [_shown(part, said[part.key]) for part in parts]
        if self.form(said).for_all and len(set(texts)) == 1:
            return texts[0]
        labelled = [f"{part.label} {text}" for part, text in zip(parts, texts, strict=True)]
        alike = [isinstance(part, Measure) and part.dimension is Dimension.LENGTH for part in parts]
        return ", ".join(labelled if sum(alike) > 1 else texts)


def _shown(part: AnswerPart, text: str) -> str:
    return text or part.nothing if isinstance(part, Several) else text


def _size(name: str) -> Callable[[Said], Form]:
    """Volume, depth and shape of an open vessel."""
    form = Form(
        (
            Measure(f"{name}.volume", "volume", Dimension.VOLUME),
            Measure(f"{name}.depth", "deep", Dimension.LENGTH),
            OneOf(f"{name}.shape", "walls", SHAPES),
        )
    )
    return lambda _: form


def _floors(said: Said) -> Form:
    """The floor of each vessel."""
    return Form(
        tuple(Measure(f"{name}.floor", name, Dimension.LENGTH, height=True) for name in vessels(said))
    )


def _walls(said: Said) -> Form:
    """The wall of each vessel, the same of both filters, or one for all."""
    names = dict.fromkeys(map(asked_as, vessels(said)))
    return Form(tuple(Measure(f"{name}.wall", name, Dimension.LENGTH) for name in names), for_all=True)


def _ways(said: Said) -> Form:
    """Level distances."""
    length = Dimension.LENGTH
    parts = [Measure("ways.next", "onward", length), Measure("ways.back", "back", length)]
    parts = parts if "sump" in vessels(said) else []
    parts.append(Measure("ways.bed", "to the beds", length))
    if said["beds.count"] != "1":
        parts.append(Measure("ways.beds", "bed to bed", length))
    return Form(tuple(parts))


UNITS = OneOf(
    "units",
    "units",
    {"metric": "metric", "si": "metric", "us": "us", "inch": "us", "inches": "us", "feet": "us"},
)
PLACE = OneOf(
    "place",
    "place",
    {
        "indoors": "indoors",
        "inside": "indoors",
        "in": "indoors",
        "greenhouse": "indoors",
        "outdoors": "outdoors",
        "outside": "outdoors",
        "out": "outdoors",
        "garden": "outdoors",
    },
)
BESIDES = Several(
    "besides",
    "beside",
    {"sump": "sump", "settler": "settler", "filter": "biofilter", "biofilter": "biofilter"},
    "none",
)
BEDS = Form(
    (
        Count("beds.count", "beds", MOST_BEDS),
        Measure("beds.area", "each", Dimension.AREA),
        Measure("beds.depth", "deep", Dimension.LENGTH),
        OneOf("beds.shape", "walls", SHAPES),
    )
)

QUESTIONS: tuple[Question, ...] = (
    Question(
        "Units of the plan: metric or us",
        "Answers may be in any units, as in 260 gal, 1 m 20 or 4 ft 6 in.",
        lambda _: Form((UNITS,)),
    ),
    Question(
        "Price list: metric, inch, bore-named, or a folder of your own",
        "It says what there is to buy; prices of those that come along are invented.",
        lambda _: Form((FreeAnswer("catalog", "list"),), whole=True),
    ),
    Question(
        "Place: indoors or outdoors",
        "Outdoors a shower of 30 mm must find room while the power is off.",
        lambda _: Form((PLACE,)),
    ),
    Question(
        "Beside tank and beds: sump, settler, biofilter, or none",
        "All water runs back to a sump; without one the pump stands in the tank.",
        lambda _: Form((BESIDES,), whole=True),
    ),
    Question(
        "Fish tank: volume to the rim, depth inside, round or square",
        "The flow follows from its volume; round walls take other fittings than flat.",
        _size("tank"),
        ("tank",),
        draws=True,
        looks=lambda _: Looks.PUMPS,
    ),
    Question(
        "Beds: how many, area of one or its sides, depth, round or square",
        "The water that they take when full decides how large the sump must be.",
        lambda _: BEDS,
        ("beds",),
        draws=True,
        # Where the pump stands in the tank, the water of all beds comes from it.
        looks=lambda said: None if "sump" in vessels(said) else Looks.HEIGHTS,
    ),
    Question(
        "Filters: volume of one to the rim, depth inside, round or square",
        "They stand between tank and sump; two of them are taken as alike.",
        _size("filters"),
        FILTERS,
        asked=lambda said: bool(filters_of(said)),
        draws=True,
    ),
    Question(
        "Sump: volume to the rim, depth inside, round or square",
        "It must fill every bed at once and still cover the pump.",
        _size("sump"),
        ("sump",),
        asked=lambda said: "sump" in vessels(said),
        draws=True,
        looks=lambda _: Looks.HEIGHTS,
    ),
    Question(
        "Heights: inside floor of each over the ground, minus where dug in",
        "Water must fall from the tank to the pump, and from the beds too.",
        _floors,
        draws=True,
        looks=lambda _: Looks.HEIGHTS,
    ),
    Question(
        "Thickness of the walls: one for all, or each by its name",
        "Fittings fit some walls only, and thin ones need a stand: measure an edge.",
        _walls,
    ),
    Question(
        "Level distances from wall to wall, each as it is named in the brackets",
        "Onward is from each vessel to the next; ups and downs follow from heights.",
        _ways,
        looks=lambda _: Looks.HEIGHTS,
    ),
)
"""At most twelve are asked of anyone."""
