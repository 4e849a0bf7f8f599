"""``hushweir log export``: sessions as CSV, JSON or Parquet for other programs."""

from __future__ import annotations

import argparse
import csv
import json
import os
import shutil
from collections.abc import Callable, Iterable, Sequence
from contextlib import ExitStack, closing
from pathlib import Path
from typing import Any, TextIO

from tuner.errors import ConfigError
from tuner.logbook.store import Logbook
from tuner.logbook.tables import (
    TABLES,
    Row,
    Table,
    all_bands_hz,
    seconds_arrays,
    seconds_columns,
    seconds_rows,
    table_rows,
)
from tuner.screens.words import count_text
from tuner.verbs.desk import Desk

_FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what spreadsheets take for the beginning of a formula
_TOLD_EVERY = 100
Told = Callable[[int], None]


def run(args: argparse.Namespace, desk: Desk) -> int:
    """Carry out the verb. What was begun is removed when it cannot be finished."""
    out: Path = args.out
    if out.exists():
        raise ConfigError(f"out={out} must not be there yet: nothing is overwritten, name another")
    if args.format == "parquet":
        _pyarrow()
    with desk.logbook(args.logbook, look_only=True) as logbook:
        numbers = [logbook.session(n).id for n in dict.fromkeys(args.numbers)] or sorted(
            s.id for s in logbook.sessions()
        )

        def told(done: int) -> None:
            if done % _TOLD_EVERY == 0:
                desk.tell(f"         {done} of {count_text(len(numbers), 'session')}")

        write = {"csv": _write_csv, "json": _write_json, "parquet": _write_parquet}[args.format]
        try:
            write(logbook, numbers, out, not args.no_seconds, told)
        except FileExistsError as error:
            raise ConfigError(f"out={out} must not be there yet: nothing is overwritten, name another") from error
        except OSError as error:
            _remove(out)
            raise ConfigError(f"out={out} cannot be written ({error.strerror or error}): name another place") from error
        except BaseException:
            _remove(out)
            raise
    desk.tell(f"exported {count_text(len(numbers), 'session')} to {out}")
    return 0


def _remove(out: Path) -> None:
    if out.is_dir():
        shutil.rmtree(out, ignore_errors=True)
    else:
        out.unlink(missing_ok=True)


def _write_csv(logbook: Logbook, numbers: Sequence[int], out: Path, with_seconds: bool, told: Told) -> None:
    out.mkdir(mode=0o700)
    with ExitStack() as stack:
        def begun(name: str, columns: Iterable[str]) -> Any:
            file: TextIO = stack.enter_context((out / f"{name}.csv").open("x", encoding="utf-8", newline=""))
            writer = csv.writer(file)
            writer.writerow(columns)
            return writer

        writers = [(table, begun(table.name, table.columns)) for table in TABLES]
        bands = all_bands_hz(logbook, numbers)
        seconds = begun("seconds", seconds_columns(bands)) if with_seconds else None
        for done, number in enumerate(numbers, 1):
            for table, writer in writers:
                writer.writerows([_safe(cell) for cell in row] for row in table_rows(logbook, table, number))
            if seconds is not None:
                seconds.writerows(seconds_rows(logbook, number, bands))
            told(done)


def _safe(cell: Any) -> Any:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def _write_json(logbook: Logbook, numbers: Sequence[int], out: Path, with_seconds: bool, told: Told) -> None:
    bands = all_bands_hz(logbook, numbers)
    with open(out, "x", encoding="ascii", opener=_owners_alone) as file:
        file.write('{"schema": 1, "sessions": [')
        for done, number in enumerate(numbers, 1):
            session: dict[str, Any] = {}
            for table in TABLES:
                named = [_named(table, row) for row in table_rows(logbook, table, number)]
                if table.name == "sessions":
                    session.update(named[0])
                else:
                    session[table.name] = named
            if with_seconds:
                names = seconds_columns(bands)
                rows = seconds_rows(logbook, number, bands)
                session["seconds"] = [dict(zip(names, row, strict=True)) for row in rows]
            file.write((",\n" if done > 1 else "\n") + json.dumps(session))
            told(done)
        file.write("\n]}\n")


def _owners_alone(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


def _named(table: Table, row: Row) -> dict[str, Any]:
    named: dict[str, Any] = {}
    for name, cell in zip(table.columns, row, strict=True):
        if name.endswith("_json"):
            named[name.removesuffix("_json")] = json.loads(cell) if cell else None
        elif name != "session" or table.name == "sessions":
            named[name] = cell
    return named


def _pyarrow() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise ConfigError(
            "format=parquet must have pyarrow, which is not installed: 'pip install pyarrow', or take csv or json"
        ) from error
    return pyarrow


def _write_parquet(logbook: Logbook, numbers: Sequence[int], out: Path, with_seconds: bool, told: Told) -> None:
    pa = _pyarrow()
    out.mkdir(mode=0o700)
    for table in TABLES:
        rows = [row for number in numbers for row in table_rows(logbook, table, number)]
        columns = list(zip(*rows, strict=True)) if rows else [()] * len(table.columns)
        whole = pa.table({name: list(column) for name, column in zip(table.columns, columns, strict=True)})
        pa.parquet.write_table(whole, out / f"{table.name}.parquet")
    if not with_seconds:
        return
    bands = all_bands_hz(logbook, numbers)
    types = {"session": pa.int32(), "second": pa.int32(), "dropped_samples": pa.int32(), "clipped_samples": pa.int32()}
    schema = pa.schema([(name, types.get(name, pa.float32())) for name in seconds_columns(bands)])
    with closing(pa.parquet.ParquetWriter(out / "seconds.parquet", schema)) as writer:
        for done, number in enumerate(numbers, 1):
            arrays = seconds_arrays(logbook, number, bands)
            # What is not known is null, not NaN.
            cells = [
                pa.array(column, type=field.type, from_pandas=True)
                for column, field in zip(arrays.values(), schema, strict=True)
            ]
            writer.write_table(pa.table(cells, schema=schema))
            told(done)
