"""What was read of the journals, kept in columns, so that it need not be read again.

A folder of Parquet files, as any tool for columns reads them: `cache/review/part-*/` holds
`sessions`, `steps`, `misses` (refusals) and `problems` of one reading; `row` is the place of the
session among those of its part, and `sums` holds the SHA-256 of each file as `sha256sum` writes
it.  It may be deleted at any time; whatever is damaged, old or does not fit is left aside, and its
journals are read again.  A column is decoded when it is first asked for.

May import columns, records, numpy and, late, pyarrow.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from handsfree.review.columns import (
    MISS_COLUMNS,
    MISS_TEXTS,
    SESSION_COLUMNS,
    SESSION_TEXTS,
    STEP_COLUMNS,
    STEP_COUNTS,
    STEP_TEXTS,
    Column,
    Columns,
    Gathering,
    Table,
    merged,
)
from handsfree.review.records import Problem

if TYPE_CHECKING:
    import pyarrow

STORE = Path("cache") / "review"
"""Within the data folder."""
_VERSION = "7"
_BEFORE = Path("cache") / "review.npz"
"""Where earlier versions kept it."""
_ROWS = 32_768
"""Rows that are written, and read, at a time: so much less memory is needed on the way."""
_MOST_PARTS = 12
"""Readings that are kept apart; then they are put together."""
_WORTH_LESS = 0.1
"""Share of rows whose journals have changed, from which on all is written anew."""

_FILES = ("sessions.parquet", "steps.parquet", "misses.parquet", "problems.parquet")

Key = tuple[str, int, int]
"""Name of a journal in the data folder, its size and time of change."""
Notes = dict[str, tuple[tuple[int, int], tuple[Problem, ...]]]
"""By name: size and time of change of a journal, and what was wrong with it."""

_KINDS = {"i1": "int8", "i2": "int16", "i4": "int32", "i8": "int64", "f4": "float",
          "f8": "double", "?": "bool"}
"""What pyarrow calls numpy's kinds."""
_TABLES: Mapping[str, tuple[Mapping[str, str], Sequence[str]]] = {
    "sessions": ({**SESSION_COLUMNS, "size": "i8", "changed": "i8"}, SESSION_TEXTS),
    "steps": (STEP_COLUMNS, STEP_TEXTS), "misses": (MISS_COLUMNS, MISS_TEXTS)}


@dataclass(frozen=True)
class Kept:
    """Everything that was kept, whether its journals are as they were or not."""

    columns: Columns
    keys: tuple[Key, ...]
    """One for each session."""
    notes: Notes
    parts: int
    """Readings that it comes from."""
    damaged: bool = False
    """There is something in which none of this could be read."""


def available() -> bool:
    """Whether pyarrow is installed; without it journals are read each time."""
    try:
        import pyarrow  # noqa: F401
    except ImportError:
        return False
    return True


def read(data: Path) -> Kept:
    """What the store of a data folder knows; nothing if it is absent, old or damaged."""
    names = _parts(data)
    try:
        found = [_read_part(data / STORE / name) for name in names]
    except Exception:  # noqa: BLE001  (it is only a store: whatever is wrong, read again)
        return Kept(Gathering().columns(), (), {}, len(names), damaged=True)
    if not found:
        return Kept(Gathering().columns(), (), {}, 0)
    notes = {name: note for _, _, notes in found for name, note in notes.items()}
    return Kept(merged([columns for columns, _, _ in found]),
                tuple(key for _, keys, _ in found for key in keys), notes, len(names))


def keep(
    data: Path, before: Kept, alive: Sequence[int], fresh: Columns, fresh_keys: Sequence[Key],
    notes: Notes, gone: bool,
) -> bool:
    """Keep what was read now beside what was kept before; whether it could be written.

    Args:
        alive: rows of `before` whose journals are as they were.
        fresh: what was read now, and its keys.
        notes: what is wrong with any journal.
        gone: a journal has gone, and what it said must go, too.
    """
    stale = len(before.keys) - len(alive)
    anew = (gone or before.damaged or before.parts >= _MOST_PARTS
            or stale > _WORTH_LESS * len(before.keys))
    with contextlib.suppress(OSError):
        (data / _BEFORE).unlink(missing_ok=True)
        names = _parts(data)
        if anew:
            rows = np.array(alive, "i4")
            whole = merged([before.columns.choose(rows), fresh]) if before.keys else fresh
            _write_part(data, whole, [*(before.keys[row] for row in alive), *fresh_keys], notes)
            for name in names:
                shutil.rmtree(data / STORE / name, ignore_errors=True)
        else:
            new = {name: note for name, note in notes.items() if before.notes.get(name) != note}
            _write_part(data, fresh, fresh_keys, new)
        return True
    return False


def _parts(data: Path) -> list[str]:
    with contextlib.suppress(OSError):
        return sorted(entry.name for entry in os.scandir(data / STORE)
                      if entry.name.startswith("part-"))
    return []


# --- one part ------------------------------------------------------------------------------------

def _read_part(folder: Path) -> tuple[Columns, list[Key], Notes]:
    """Raises whatever is wrong with it."""
    import pyarrow

    pyarrow.set_memory_pool(pyarrow.system_memory_pool())  # its own keeps what was given back
    files = {name: (folder / name).read_bytes() for name in _FILES}
    sums = _sums({name: hashlib.sha256(raw).hexdigest() for name, raw in files.items()})
    if (folder / "sums").read_text(encoding="ascii") != sums:
        raise ValueError("damaged")
    words: dict[str, int] = {}
    tables = {name: Table(kinds, _Held(files[f"{name}.parquet"], kinds, texts, words).column)
              for name, (kinds, texts) in _TABLES.items()}
    sessions = dict(tables["sessions"])
    sizes, changed = sessions.pop("size").tolist(), sessions.pop("changed").tolist()
    columns = Columns(tuple(words), sessions, tables["steps"], tables["misses"])
    keys = list(zip(columns.text("path").tolist(), sizes, changed, strict=True))
    return columns, keys, _notes(files["problems.parquet"])


def _sums(digests: Mapping[str, str]) -> str:
    return "".join(f"{digest}  {name}\n" for name, digest in digests.items())


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class _Held:
    """A Parquet file in memory, of which single columns are decoded."""

    def __init__(self, raw: bytes, kinds: Mapping[str, str], texts: Sequence[str],
                 words: dict[str, int]) -> None:
        """Columns of text become places among `words`, to which those that are new are added."""
        import pyarrow
        from pyarrow import parquet

        self._file = parquet.ParquetFile(pyarrow.BufferReader(raw), read_dictionary=list(texts))
        if self._file.schema_arrow.metadata.get(b"handsfree") != _VERSION.encode():
            raise ValueError("an older version")
        self._kinds = kinds
        self._coded = {name: self._joined("i4", [_coded(chunk, words) for chunk in self._chunks(name)])
                       for name in texts}

    def _chunks(self, name: str) -> Iterator[pyarrow.Array]:
        every = range(self._file.num_row_groups)
        yield from self._file.read_row_groups(every, [name], use_threads=False).column(0).chunks

    def column(self, name: str) -> Column:
        """A column; of text, the places of its words."""
        kind = self._kinds[name]
        return self._coded[name] if name in self._coded else self._joined(
            kind, [_numbers(chunk, kind) for chunk in self._chunks(name)])

    @staticmethod
    def _joined(kind: str, parts: list[Column]) -> Column:
        return np.concatenate(parts) if parts else np.empty(0, kind)


def _coded(chunk: pyarrow.Array, words: dict[str, int]) -> Column:
    """Places of the words among `words`, to which those that are new are added."""
    codes = np.array([words.setdefault(str(word), len(words))
                      for word in chunk.dictionary.to_pylist()], "i4")
    return codes[_numbers(chunk.indices, "i4")]


def _numbers(chunk: pyarrow.Array, kind: str) -> Column:
    """As they lie in memory; pyarrow's own way would load pandas, which takes as long as the rest.
    """
    if chunk.null_count or str(chunk.type) != _KINDS[kind]:
        raise ValueError("damaged")
    begin, end = chunk.offset, chunk.offset + len(chunk)
    buffer = chunk.buffers()[1] or b""
    if kind == "?":
        bits = np.unpackbits(np.frombuffer(buffer, "u1"), bitorder="little")
        return bits[begin:end].astype(bool)
    return np.frombuffer(buffer, kind)[begin:end]


def _notes(raw: bytes) -> Notes:
    import pyarrow
    from pyarrow import parquet

    found: Notes = {}
    # not `read_table`, which would load pandas
    for row in parquet.ParquetFile(pyarrow.BufferReader(raw)).read(use_threads=False).to_pylist():
        name, state = str(row["name"]), (int(row["size"]), int(row["changed"]))
        before = found.get(name, (state, ()))[1]
        found[name] = (state, (*before, Problem(name, int(row["line"]), str(row["text"]))))
    return found


def _write_part(data: Path, columns: Columns, keys: Sequence[Key], notes: Notes) -> None:
    """Write it beside and rename; only the owner may read it."""
    (data / STORE).mkdir(mode=0o700, parents=True, exist_ok=True)
    names = [int(name.removeprefix("part-")) for name in _parts(data)
             if name.removeprefix("part-").isdigit()]
    folder = Path(tempfile.mkdtemp(dir=data / STORE, prefix=".part-"))
    try:
        states = {"size": np.array([size for _, size, _ in keys], "i8"),
                  "changed": np.array([time for _, _, time in keys], "i8")}
        for name, table in (("sessions", {**columns.sessions, **states}),
                            ("steps", columns.steps), ("misses", columns.misses)):
            _write(folder / f"{name}.parquet", table, _TABLES[name][1], columns.words)
        rows = [(name, state, problem) for name, (state, wrong) in notes.items()
                for problem in wrong]
        _write(folder / "problems.parquet", {
            "name": np.array([name for name, _, _ in rows], object),
            "size": np.array([size for _, (size, _), _ in rows], "i8"),
            "changed": np.array([time for _, (_, time), _ in rows], "i8"),
            "line": np.array([problem.line for _, _, problem in rows], "i8"),
            "text": np.array([problem.text for _, _, problem in rows], object)})
        with _private(folder / "sums") as file:
            file.write(_sums({name: _digest(folder / name) for name in _FILES}).encode())
        os.rename(folder, data / STORE / f"part-{max(names, default=0) + 1:06d}")
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


def _private(path: Path) -> BinaryIO:
    """A new file that only the owner may read."""
    return open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb")


def _dictionary(codes: Column, words: Sequence[str]) -> pyarrow.Array:
    import pyarrow

    used = np.flatnonzero(np.bincount(codes, minlength=1))
    places = np.zeros(len(words), "i4")
    places[used] = np.arange(len(used))
    return pyarrow.DictionaryArray.from_arrays(
        _plain(places[codes]), _strings([words[code] for code in used.tolist()]))


def _plain(column: Column) -> pyarrow.Array:
    """Numbers as they lie in memory, or texts; `pyarrow.array` would load pandas, where there is one,
    which takes 48 MB."""
    import pyarrow

    if column.dtype == np.dtype(object):
        return _strings(column.tolist())
    kind = pyarrow.from_numpy_dtype(column.dtype)
    raw = np.packbits(column, bitorder="little") if column.dtype == np.dtype(bool) else (
        np.ascontiguousarray(column))
    return pyarrow.Array.from_buffers(kind, len(column), [None, pyarrow.py_buffer(raw)])


def _strings(texts: Sequence[str]) -> pyarrow.Array:
    import pyarrow

    encoded = [text.encode() for text in texts]
    ends = np.cumsum([0, *map(len, encoded)], dtype="i4")
    return pyarrow.StringArray.from_buffers(
        len(encoded), pyarrow.py_buffer(ends), pyarrow.py_buffer(b"".join(encoded)))


def _write(
    path: Path, columns: Mapping[str, Column], texts: Sequence[str] = (), words: Sequence[str] = ()
) -> None:
    """A few rows at a time, so that they are never all there twice.

    Args:
        texts: columns that hold places among `words`.
    """
    import pyarrow
    from pyarrow import parquet

    pyarrow.set_memory_pool(pyarrow.system_memory_pool())  # its own keeps what was given back
    columns = dict(columns)
    rows = max(map(len, columns.values()))
    with _private(path) as file, contextlib.ExitStack() as stack:
        writer: parquet.ParquetWriter | None = None
        for begin in range(0, max(1, rows), _ROWS):
            arrays = {}
            for name, column in columns.items():
                some = column[begin:begin + _ROWS]
                arrays[name] = _dictionary(some, words) if name in texts else _plain(some)
            made = pyarrow.Table.from_arrays(
                list(arrays.values()), list(arrays), metadata={"handsfree": _VERSION})
            if writer is None:
                few = [name for name, column in arrays.items() if name in STEP_COUNTS
                       or not pyarrow.types.is_primitive(column.type)]
                writer = stack.enter_context(parquet.ParquetWriter(
                    file, made.schema, compression="lz4", use_dictionary=few))
            writer.write_table(made)
