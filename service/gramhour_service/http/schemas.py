"""JSON Schemas of the contract's types, saying what is really enforced.

The library that decodes them writes the schemas; added here is what our own reader enforces
beyond: no unknown members in what is sent, amounts as numbers or as texts of plain digits, and
of several ways to give a thing exactly one.
"""

from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

import msgspec
from msgspec import Struct, UnsetType

from gramhour.contract.members import OneWay, Sent, Way

PLACE = "#/components/schemas/{name}"
PLAIN_AMOUNT = r"^-?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]{1,3})?$"
LARGEST = 1_000_000_000


class Schemas:
    """Collects the types that a document uses, and writes their schemas once, at its end."""

    def __init__(self) -> None:
        """Begin with no types."""
        self._types: dict[type[Struct], None] = {}

    def of(self, told: Any) -> Any:
        """Write the schema of a type or union of types, or one that has types within."""
        if isinstance(told, dict):
            return {name: self.of(value) for name, value in told.items()}
        if isinstance(told, list):
            return [self.of(each) for each in told]
        if isinstance(told, UnionType):
            return {"anyOf": [self.of(each) for each in get_args(told)]}
        if isinstance(told, type) and issubclass(told, Struct):
            self._types[told] = None
            return {"$ref": PLACE.format(name=told.__name__)}
        return told

    def components(self) -> dict[str, Any]:
        """Write the schemas of all types met, and of those within them, by name."""
        _, components = msgspec.json.schema_components(tuple(self._types), ref_template=PLACE)
        structs = {struct.__name__: struct for struct in _with_inner(self._types)}
        return {
            name: _complete(structs[name], _amounts(schema))
            for name, schema in sorted(components.items())
        }


def _with_inner(types: Any) -> set[type[Struct]]:
    """Find all Structs that are reached from some, and those that they are derived from."""
    found: set[type[Struct]] = set()
    waiting: list[Any] = list(types)
    while waiting:
        met = waiting.pop()
        if isinstance(met, type) and issubclass(met, Struct):
            if met not in found:
                found.add(met)
                waiting += get_type_hints(met).values()
        elif get_origin(met) is not None or isinstance(met, UnionType):
            waiting += get_args(met)
    return found


def _amounts(schema: Any) -> Any:
    """Write decimals as they may be sent, or as they are answered."""
    if isinstance(schema, list):
        return [_amounts(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    if schema.get("format") == "decimal":
        return _amount(schema)
    return {name: _amounts(value) for name, value in schema.items()}


def _amount(schema: dict[str, Any]) -> dict[str, Any]:
    told = {k: v for k, v in schema.items() if k not in ("type", "format", "x-bounds")}
    text = {"type": "string", "format": "decimal", "pattern": PLAIN_AMOUNT}
    if "x-unit" not in schema:
        return {**told, **text}
    bounds = {"minimum": -LARGEST, "maximum": LARGEST, **schema["x-bounds"]}
    if "exclusiveMinimum" in bounds:
        del bounds["minimum"]
    if "exclusiveMaximum" in bounds:
        del bounds["maximum"]
    return {**told, "anyOf": [{"type": "number", **bounds}, text]}


def _complete(struct: type[Struct], schema: dict[str, Any]) -> dict[str, Any]:
    """Add what our own reader enforces of a type."""
    optional = {
        name for name, hint in get_type_hints(struct).items() if UnsetType in get_args(hint)
    }
    required = [name for name in schema.get("required", ()) if name not in optional]
    told = {**schema, "required": required}
    if issubclass(struct, Sent):
        told["additionalProperties"] = False
    ways = [_one_way(each) for each in getattr(struct, "one_way", ())]
    return {**told, "allOf": ways} if ways else told


def _one_way(choice: OneWay) -> dict[str, Any]:
    names = {name for way in choice.ways for name in (*way.needs, *way.may_have)}
    ways = [_way(way, names) for way in choice.ways]
    if not choice.required:
        ways.append({"properties": dict.fromkeys(sorted(names), False)})
    return {"anyOf": ways}


def _way(way: Way, names: set[str]) -> dict[str, Any]:
    others = names - {*way.needs, *way.may_have}
    schema: dict[str, Any] = {"properties": dict.fromkeys(sorted(others), False)}
    return {**schema, "required": list(way.needs)} if way.needs else schema
