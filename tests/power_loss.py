"""What a disk holds when power fails: told from a recording of all that a command changed and synced.

A name lasts once its folder was synced, contents once their file was (POSIX fsync, which promises no more). What was
not may be there or not; ``HOW`` tells which: nothing of it, all names and no contents, or some of both.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

HOW = ("nothing unsynced", "names without contents", "some of each")


@dataclass(frozen=True, slots=True)
class Step:
    """One change or sync, as ``faulty_disk.c`` writes it down."""

    kind: (
        str  # c made, w written, t cut to a length, s file synced, d folder synced, r renamed, u removed, m folder made
    )
    inode: int
    place: int  # where it was written, or the length that it was cut to
    path: str
    to: str
    data: bytes


@dataclass(slots=True, eq=False)
class File:
    """A file: what was synced, and what was done since."""

    synced: bytes = b""
    since: list[Step] = field(default_factory=list)

    def with_steps(self, steps: list[Step]) -> bytes:
        """The contents once these steps have reached the disk as well."""
        held = bytearray(self.synced)
        for step in steps:
            if step.kind == "t":
                del held[step.place :]
            end = step.place + len(step.data)
            held.extend(bytes(max(0, end - len(held))))
            held[step.place : end] = step.data
        return bytes(held)


@dataclass(slots=True, eq=False)
class Folder:
    """A folder: the names in it now, and those that were there when it was synced."""

    now: dict[str, File | Folder] = field(default_factory=dict)
    synced: dict[str, File | Folder] = field(default_factory=dict)


def read_steps(recording: bytes) -> Iterator[Step]:
    """The steps of a recording, in order."""
    at = 0
    while at < len(recording):
        end = recording.index(b"\n", at)
        kind, inode, place, *lengths = recording[at:end].decode("ascii").split(" ")
        parts, at = [], end + 1
        for length in map(int, lengths):
            parts.append(recording[at : at + length])
            at += length
        yield Step(kind, int(inode), int(place), parts[0].decode(), parts[1].decode(), parts[2])


class Disk:
    """A folder on a disk, from what it holds at first, all of it synced, through the steps of a recording."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._files: dict[int, File] = {}
        self._top = self._held(root)

    def _held(self, folder: Path) -> Folder:
        found = Folder()
        for path in folder.iterdir():
            if path.is_dir():
                found.now[path.name] = self._held(path)
            else:
                found.now[path.name] = self._files[path.stat().st_ino] = File(path.read_bytes())
        found.synced = dict(found.now)
        return found

    def take(self, step: Step) -> None:
        """Let one step happen."""
        if step.kind in "wts":
            if (file := self._files.get(step.inode)) is None:
                return  # lies elsewhere
            if step.kind == "s":
                file.synced, file.since = file.with_steps(file.since), []
            else:
                file.since.append(step)
            return
        if step.kind == "d":
            if (folder := self._folder(Path(step.path))) is not None:
                folder.synced = dict(folder.now)
            return
        path = Path(step.path)
        if (folder := self._folder(path.parent)) is None:
            return
        if step.kind == "c":
            folder.now[path.name] = self._files[step.inode] = File()
        elif step.kind == "m":
            folder.now[path.name] = Folder()
        else:
            node = folder.now.pop(path.name)
            target = self._folder(Path(step.to).parent) if step.kind == "r" else None
            if target is not None:
                target.now[Path(step.to).name] = node

    def _folder(self, path: Path) -> Folder | None:
        if not path.is_relative_to(self._root):
            return None
        found: File | Folder = self._top
        for name in path.relative_to(self._root).parts:
            assert isinstance(found, Folder)
            found = found.now[name]
        assert isinstance(found, Folder)
        return found

    def fail(self, into: Path, how: str, chosen: random.Random) -> None:
        """Write what may be there after power failed now into a folder that there is not yet."""
        self._write(self._top, into, how, chosen)

    def _write(self, folder: Folder, into: Path, how: str, chosen: random.Random) -> None:
        into.mkdir()
        for name in sorted(folder.now.keys() | folder.synced.keys()):
            last = how == HOW[1] or (how == HOW[2] and chosen.random() < 0.5)
            node = (folder.now if last else folder.synced).get(name)
            if isinstance(node, Folder):
                self._write(node, into / name, how, chosen)
            elif node is not None:
                steps = [step for step in node.since if how == HOW[2] and chosen.random() < 0.5]
                (into / name).write_bytes(node.with_steps(steps))
