"""Reads stored rates so that words of tomorrow break nothing: an unknown word stays a text.

Requests and sheets that are sent have the words of today only; what is stored may have been
written through a newer service.
"""

from types import UnionType
from typing import Annotated, Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import msgspec

T = TypeVar("T")


def read_json(body: bytes, into: type[T]) -> T:
    """Read a document into a struct. Raises ``ValidationError``."""
    try:
        return msgspec.json.decode(body, type=into)
    except msgspec.ValidationError:
        read: T = convert(msgspec.json.decode(body), into)
        return read


def convert(value: Any, into: Any) -> Any:
    """Convert a plain value, a new word where words are named into its text.

    Raises ``ValidationError``.
    """
    try:
        return msgspec.convert(value, into)
    except msgspec.ValidationError as error:
        for kind in _kinds(into):
            match get_origin(kind) or kind, value:
                case (origin, str()) if origin is Literal:
                    return value
                case (origin, list()) if origin is list:
                    return [convert(each, *get_args(kind)) for each in value]
                case (origin, dict()) if origin is dict:
                    of_each = get_args(kind)[1]
                    return {code: convert(each, of_each) for code, each in value.items()}
                case (type() as struct, dict()) if issubclass(struct, msgspec.Struct):
                    return _struct(value, struct, error)
        raise


def _struct(value: dict[str, Any], into: type[msgspec.Struct], error: Exception) -> msgspec.Struct:
    hints = get_type_hints(into, include_extras=True)
    names = [name for name in into.__struct_fields__ if name in value]
    members = {name: convert(value[name], hints[name]) for name in names}
    try:
        return into(**members)
    except TypeError:  # one that must be there is not
        raise error from None


def _kinds(into: Any) -> list[Any]:
    """List what a type may be: the parts of a union, without what is said about them."""
    if get_origin(into) is Annotated:
        return _kinds(get_args(into)[0])
    if get_origin(into) in (Union, UnionType):
        return [kind for part in get_args(into) for kind in _kinds(part)]
    return [into]
