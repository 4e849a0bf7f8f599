"""Deleting from the logbook: what belonged to a session goes with it, its clips first."""

from __future__ import annotations

import sqlite3

from tuner.logbook import content
from tuner.logbook.clipfolder import ClipFolder
from tuner.logbook.numbering import remember


def delete_session(connection: sqlite3.Connection, folder: ClipFolder, session: int) -> None:
    """Delete a session with all that it holds, and the installation if no other session has it.

    The caller holds the transaction. What is deleted is overwritten, not only unlinked.
    """
    for clip in content.clips(connection, session):
        folder.delete(clip.file)
    rig = connection.execute("SELECT rig_id FROM sessions WHERE id = ?", (session,)).fetchone()
    remember(connection, session)
    connection.execute("DELETE FROM sessions WHERE id = ?", (session,))
    connection.execute(
        "DELETE FROM rigs WHERE id = ? AND NOT EXISTS (SELECT 1 FROM sessions WHERE rig_id = rigs.id)",
        (rig[0] if rig else None,),
    )


def delete_clip(connection: sqlite3.Connection, folder: ClipFolder, clip: int) -> bool:
    """Delete a clip, its file first; False when there is none of this number. The caller holds the transaction."""
    found = connection.execute("SELECT file FROM clips WHERE id = ?", (clip,)).fetchone()
    if found is None:
        return False
    folder.delete(found[0])
    connection.execute("DELETE FROM clips WHERE id = ?", (clip,))
    return True
