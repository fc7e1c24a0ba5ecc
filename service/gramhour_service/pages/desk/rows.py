"""Rows of a document, added and taken away without any script: those are buttons of its form."""

from typing import Any


def with_changed_rows(document: Any, added: str, removed: str) -> Any:
    """Add an empty row at a place and take one away, each if one is named."""
    changed = with_row(document, added) if added else document
    return without_row(changed, removed) if removed else changed


def without_empty(value: Any) -> Any:
    """Leave out rows in which nothing stands yet."""
    match value:
        case dict():
            return {key: without_empty(each) for key, each in value.items()}
        case list():
            return [without_empty(each) for each in value if each != {}]
    return value


def with_row(document: Any, at: str) -> Any:
    """Add an empty row at a place; where none can be, the document stays as it is."""
    holder, last = _holder(document, at)
    if isinstance(holder, dict) and last:
        holder.setdefault(last, [])
    rows = _within(holder, last)
    if isinstance(rows, list):
        rows.append({})
    return document


def without_row(document: Any, at: str) -> Any:
    """Take a row away; where there is none, the document stays as it is."""
    holder, last = _holder(document, at)
    if isinstance(holder, list) and _within(holder, last) is not None:
        del holder[int(last)]
    return document


def _holder(document: Any, at: str) -> tuple[Any, str]:
    """Find what holds a place, made where it is missing, and the last step to the place."""
    *steps, last = at.split("/")[1:] or [""]
    for step in steps:
        if isinstance(document, dict):
            document.setdefault(step, {})
        document = _within(document, step)
    return document, last


def _within(holder: Any, step: str) -> Any:
    match holder:
        case dict():
            return holder.get(step)
        case list() if step.isdecimal() and int(step) < len(holder):
            return holder[int(step)]
    return None
