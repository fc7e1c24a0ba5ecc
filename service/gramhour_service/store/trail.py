"""Who wrote what, and when: read from the history that the store keeps and refuses to rewrite."""

from typing import NamedTuple

from sqlite_utils import Database


class Written(NamedTuple):
    """Something that was written: when, by which key or command, what it was, its name, and why."""

    at: str
    by: str
    what: str
    name: str
    note: str


TRAIL = """
    SELECT known_since AS at, made_by, 'rates changed', 'revision ' || number, note FROM revision
    UNION ALL
    SELECT changed_at, changed_by, kind || CASE
        WHEN value IS NULL THEN ' taken away' WHEN version = 1 THEN ' added' ELSE ' changed' END,
        name, 'version ' || version FROM entry_version
    UNION ALL
    SELECT asked_at, asked_by, 'repricing asked for', id, '' FROM repricing
    UNION ALL
    SELECT applied_at, applied_by, 'prices listed', count(*) || ' prices', max(note)
        FROM price_change GROUP BY applied_at, applied_by
    UNION ALL
    SELECT added_at, '', 'key added', name, scopes FROM access_key
    UNION ALL
    SELECT revoked_at, '', 'key revoked', name, '' FROM access_key WHERE revoked_at IS NOT NULL
    ORDER BY at DESC LIMIT ?
"""


def trail(store: Database, most: int) -> list[Written]:
    """Tell what was written, the newest first; keys are added and revoked by commands alone."""
    return [Written._make(row) for row in store.conn.execute(TRAIL, (most,))]
