"""What is wrong with a table of a problem file, in the builder's words: all of it at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import ValidationError

from autoplan.errors import Mistake
from autoplan.problem.tables.schema import Table
from autoplan.problem.tables.values import MOST_BEDS, Converter, closest
from autoplan.units import quoted


@dataclass(frozen=True, slots=True)
class Found:
    """What came of one table: the model, or None, and which of its keys were wrong."""

    model: Any
    mistakes: tuple[Mistake, ...]
    bad_keys: tuple[str, ...]


def validate(kind: type[Table], table: object, file: str, place: str, unread: Sequence[str] = ()) -> Found:
    """Check one table against its model.

    Args:
        kind: the model.
        table: what the file says.
        file, place: where it says so.
        unread: keys that stand there too and could not be read; nothing is said of what lacks them.

    Returns:
        The model and no mistakes, or no model and every mistake in the table.
    """
    if not isinstance(table, Mapping):
        mistake = Mistake(file, place, f"{quoted(table)} is not a table", "write a table with its keys")
        return Found(None, (mistake,), ())
    try:
        return Found(kind.model_validate(table), (), ())
    except ValidationError as error:
        return _found(kind, table, error, file, place, unread)


def _found(
    kind: type[Table],
    table: Mapping[str, object],
    error: ValidationError,
    file: str,
    place: str,
    unread: Sequence[str],
) -> Found:
    mistakes: dict[str, Mistake] = {}
    for item in error.errors(include_url=False):
        if item.get("ctx", {}).get("lacks") in unread:
            continue
        key = str(item["loc"][0]) if item["loc"] else ""
        if key not in mistakes:
            problem, remedy = _in_words(kind, key, table.get(key), item)
            mistakes[key] = Mistake(file, f"{place}.{key}" if key else place, problem, remedy)
    order = [*table, *mistakes]
    ranked = sorted(mistakes, key=order.index)
    return Found(None, tuple(mistakes[key] for key in ranked), tuple(ranked))


def _in_words(kind: type[Table], key: str, value: object, item: Any) -> tuple[str, str]:
    """Problem and remedy of one pydantic error."""
    if item["type"] == "mistake":
        return item["ctx"]["problem"], item["ctx"]["remedy"]
    if item["type"] == "extra_forbidden":
        if key in kind.gone:
            return kind.gone[key]
        keys = keys_of(kind)
        return f'there is no key "{key}" here', closest(key, keys, f"known are {', '.join(keys)}")
    example = f"write e.g. {key} = {_example(kind, key)}"
    if item["type"] == "missing":
        return "is missing", example
    if item["type"] in ("bool_type", "bool_parsing"):
        return f"{quoted(value)} is neither true nor false", example
    if item["type"] == "int_type":
        return f"{quoted(value)} is not a whole number", example
    if item["type"] in ("greater_than_equal", "less_than_equal"):
        small = item["type"].startswith("greater")
        return (
            f"{quoted(value)} is too {'small' if small else 'large'}",
            f"write a whole number from 0 to {MOST_BEDS}",
        )
    return f"{quoted(value)} cannot be read", example


def keys_of(kind: type[Table]) -> list[str]:
    """The keys of a table as they stand in the file."""
    return [field.alias or name for name, field in kind.model_fields.items()]


def _example(kind: type[Table], key: str) -> str:
    """How a value of that key would be written."""
    for name, field in kind.model_fields.items():
        if key in (name, field.alias):
            here = [part.example for part in field.metadata if isinstance(part, Converter)]
            found = here or field.examples or _nested_examples(field.annotation)
            return str(found[0])
    raise KeyError(key)


def _nested_examples(annotation: object) -> list[Any]:
    """Examples inside an annotation such as `Length | None`."""
    for part in (*getattr(annotation, "__metadata__", ()), *get_args(annotation)):
        if isinstance(part, Converter):
            return [part.example]
        found = getattr(part, "examples", None) or _nested_examples(part)
        if found:
            return list(found)
    return []
