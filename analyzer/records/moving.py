"""Records that lie in a folder alone, brought into the database of a server and the folder beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

from analyzer.records.databases import copy_rows, database_of
from analyzer.records.durable import make_folder, settle
from analyzer.records.people import at_the_machine
from analyzer.records.place import SERVER_FILE, Place
from analyzer.records.store import DATABASE, Store, open_records
from analyzer.records.tables import metadata


def move_to_server(folder: Path, place: Place) -> None:
    """Move records into a server's database and an empty folder on the same disk, all or nothing.

    Raises
    ------
    RecordsError
        When the database holds records, or cannot be written.
    """
    make_folder(place.folder)
    target = Store(place, database_of(place), at_the_machine())
    key_file = place.folder / SERVER_FILE
    made = [] if key_file.exists() else [key_file]  # what is taken away again where this fails
    try:
        target.database.there()  # of records that are there already the folder is another
        with open_records(folder) as source, source.reading() as rows, target.writing() as connection:
            metadata.create_all(connection)
            copy_rows(rows, connection)
            target.database.finish(connection)
            for part in folder.iterdir():
                if not part.name.startswith(DATABASE):
                    there = place.folder / part.name
                    part.replace(there)
                    made.append(there)
            settle(place.folder)
    except BaseException:
        for part in made:  # what another program put there meanwhile is its own
            shutil.rmtree(part) if part.is_dir() else part.unlink(missing_ok=True)
        raise
    finally:
        target.close()
