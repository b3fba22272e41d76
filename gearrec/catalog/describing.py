"""What the models say about a place in a file: the keys allowed there, and what a key is for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from pydantic.fields import FieldInfo


def keys_at(
    model: type[BaseModel], path: Sequence[str | int], keys: Iterable[str] = ()
) -> list[str]:
    """The keys allowed in the mapping at `path` below a record of `model`.

    Where several forms of mapping are allowed, those of the form that shares most with `keys`.
    """
    forms = _models_at(model, path)
    given = set(keys)
    best = max((len(given & set(_fields(form))) for form in forms), default=0)
    allowed = (form for form in forms if len(given & set(_fields(form))) == best)
    return sorted({name for form in allowed for name in _fields(form)})


def field_at(model: type[BaseModel], path: Sequence[str | int]) -> FieldInfo | None:
    """The declaration of the key that `path` ends in, or None where there is no such key."""
    if not path or not isinstance(path[-1], str):
        return None
    for form in _models_at(model, path[:-1]):
        field = _fields(form).get(path[-1])
        if field is not None:
            return field
    return None


def _models_at(model: type[BaseModel], path: Sequence[str | int]) -> list[type[BaseModel]]:
    forms = [model]
    for step in path:
        if isinstance(step, int):
            continue
        fields = [field for form in forms if (field := _fields(form).get(step))]
        forms = list(
            dict.fromkeys(inner for field in fields for inner in _models_in(field.annotation))
        )
    return forms


def _fields(model: type[BaseModel]) -> dict[str, FieldInfo]:
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """The models that a value of a type may be made of, itself or its items."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
        return
    for argument in get_args(annotation):
        yield from _models_in(argument)
