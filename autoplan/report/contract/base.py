"""What the rows of an answer's JSON are made of: kinds of value, and how a row is filled from SI figures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Annotated, Any, Self, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    model_validator,
)
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from autoplan.errors import InternalError
from autoplan.report.blocks import clean
from autoplan.report.units import HOUR_S, LITRE_M3, MM_M

MOST = 1e12
"""No number of an answer is larger, in whatever unit it is."""

READING = "reading"
"""The context in which rows are made of what others wrote."""

T = TypeVar("T")


def _without_dust(value: float, info: ValidationInfo) -> float:
    """What is written: six decimals are finer than anything measured here; never -0."""
    return value if info.context == READING else round(value, 6) or 0.0


def _known(value: object) -> object:
    """Infinity stands for unknown."""
    return None if isinstance(value, float) and not math.isfinite(value) else value


def _cleaned(text: str, info: ValidationInfo) -> str:
    """Others' texts lose control characters and direction marks before anything is made of them."""
    return clean(text) if info.context == READING else text


def _shown(text: str) -> str:
    if not clean(text).strip():
        raise PydanticCustomError("name_type", "no name")
    return text


def _unread(value: object, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> object:
    """What nothing here reads back is written as it should be, and taken from others as it comes."""
    if info.context != READING:
        return handler(value)
    return None


Text = Annotated[str, Strict(), AfterValidator(_cleaned)]
Texts = tuple[Text, ...]
Name = Annotated[Text, AfterValidator(_shown)]
"""A text with a letter to show."""
Whole = Annotated[int, Strict(), Field(ge=-MOST, le=MOST)]
Yes = Annotated[bool, Strict()]
Number = Annotated[
    float, Strict(), Field(allow_inf_nan=False, ge=-MOST, le=MOST), AfterValidator(_without_dust)
]
Size = Annotated[Number, Field(gt=0)]
Tenths = Annotated[Number, AfterValidator(lambda value: round(value, 1))]
Known = Annotated[Number | None, BeforeValidator(_known)]
"""A number, or null where it is unknown or has no end."""
Worded = Annotated[str, BeforeValidator(str)]
"""Something that says itself in words."""
Unread = Annotated[T | None, WrapValidator(_unread)]
"""A key that other programs read and neither page nor drawing: whatever stands there does no harm."""


@dataclass(frozen=True, slots=True)
class From:
    """Says which attribute a key is filled from, where that is not the key in SI."""

    attribute: str


ENDINGS: Mapping[str, tuple[str, float]] = {
    "_mm": ("_m", MM_M),
    "_l_h": ("_m3_s", LITRE_M3 / HOUR_S),
    "_per_h": ("_per_s", 1 / HOUR_S),
    "_l": ("_m3", LITRE_M3),
    "_min": ("_s", 60.0),
}
"""Units at the end of a key, the longest first; how the attribute in SI ends, and one such unit in SI."""


class JsonRow(BaseModel):
    """A table of the JSON. Keys that it does not name are left alone when it is read."""

    model_config = ConfigDict(frozen=True, populate_by_name=True)

    @classmethod
    def of(cls, *sources: object, **own: object) -> Self:
        """The row of objects in SI.

        Args:
            sources: where keys that are not given are looked for, in the first that has them: under their own
                name, by `From`, or as a quantity in SI (`ENDINGS`).
            own: keys that are given.

        Raises:
            InternalError: a number that must be finite is not, or there is no source for a key.
        """
        try:
            return cls.model_validate(dict(cls._found(sources)) | own)
        except ValidationError as error:
            wrong = error.errors()[0]
            place = ".".join(map(str, wrong["loc"]))
            raise InternalError(
                f"{cls.__name__}: {place} is {wrong['input']!r:.40}: {wrong['msg']}"
            ) from error

    def into(self, kind: type[T], **own: object) -> T:
        """The object in SI that it was made of, as far as it is told; fields that are given come first."""
        known = {field.name for field in fields(kind)}  # type: ignore[arg-type]
        found: dict[str, Any] = {}
        for key, field in type(self).model_fields.items():
            for attribute, si in _ways(key, field):
                if attribute in known:
                    found[attribute] = _times(getattr(self, key), si)
        return kind(**found | own)

    @model_validator(mode="before")
    @classmethod
    def _of_one(cls, data: object) -> object:
        """An object in SI in place of its row, or its figures in the order of the keys."""
        if isinstance(data, tuple):
            return {
                key: _times(value, 1 / _unit(f"_{key}")[2])
                for key, value in zip(cls.model_fields, data, strict=True)
            }
        return dict(cls._found((data,))) if is_dataclass(data) else data

    @classmethod
    def _found(cls, sources: tuple[object, ...]) -> Iterator[tuple[str, Any]]:
        for key, field in cls.model_fields.items():
            for attribute, si in _ways(key, field):
                holder = next((source for source in sources if hasattr(source, attribute)), None)
                if holder is not None:
                    yield key, _times(getattr(holder, attribute), 1 / si)
                    break


def _ways(key: str, field: FieldInfo) -> Iterator[tuple[str, float]]:
    """The attributes that a key may stand for, and what one of its unit is in theirs."""
    named = next((mark.attribute for mark in field.metadata if isinstance(mark, From)), "")
    if not named:
        yield key, 1.0
    ending, si_ending, si = _unit(key)
    yield named or key.removesuffix(ending) + si_ending, si


def _unit(key: str) -> tuple[str, str, float]:
    """How a key ends, how that is in SI, and what one of its unit is there."""
    return next(((end, *si) for end, si in ENDINGS.items() if key.endswith(end)), ("", "", 1.0))


def _times(value: Any, factor: float) -> Any:
    """A quantity in another unit, or several; what is no quantity as it is."""
    if factor == 1.0 or value is None:
        return value
    return tuple(each * factor for each in value) if isinstance(value, tuple) else value * factor
