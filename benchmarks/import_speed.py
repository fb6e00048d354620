"""How fast delimited text becomes Parquet, against the table engine alone on the same file.

Baseline: ``polars.scan_csv(...).sink_parquet(...)`` with every type given. Ours: read in blocks by
a layout confirmed before (every line and null accounted for) and write each block with
``DataFrame.write_parquet``; the time to understand the file is printed by itself. The third row is
the same file with a word for "no reading" in one cell of a hundred and a damaged line in every ten
thousand. Rounds are interleaved; medians and the spread of the rounds are printed, processor time
beside the clock's (other work on the machine disturbs it less), and the peak memory of each way in
a process of its own.
Run with ``python benchmarks/import_speed.py [columns] [rows] [rounds]``.
"""

import importlib.util
import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from gaugewright.sources import delimited


def written(folder: Path, columns: int, rows: int, *, messy: bool) -> Path:
    """Invented readings with three decimals, semicolons and decimal commas."""
    random = np.random.default_rng(1)
    path = folder / ("messy.csv" if messy else "clean.csv")
    with path.open("w", encoding="utf-8") as file:
        file.write("Time (s);" + ";".join(f"SG{n} (um/m)" for n in range(columns)) + "\n")
        for begin in range(0, rows, 10_000):
            count = min(10_000, rows - begin)
            table = pl.DataFrame(random.normal(0, 500, (count, columns)).round(3))
            texts = table.select(pl.all().cast(pl.String))
            if messy:
                hit = random.random((count, columns)) < 0.01
                texts = texts.select(
                    pl.when(pl.Series(hit[:, n])).then(pl.lit("OVERRANGE")).otherwise(pl.col(name))
                    .alias(name)
                    for n, name in enumerate(texts.columns)
                )  # fmt: skip
            time_text = pl.Series("t", (np.arange(begin, begin + count) / 100).round(2)).cast(
                pl.String
            )
            lines = texts.select(time_text, pl.all()).write_csv(
                separator=";", include_header=False, quote_style="never"
            )
            if messy:
                lines += "0;1;2\n"
            file.write(lines.replace(".", ","))
    return path


def engine_alone(path: Path, out: Path) -> None:
    """The table engine by itself, streaming."""
    with path.open(encoding="utf-8") as file:
        names = file.readline().strip().split(";")
    schema = dict.fromkeys(names, pl.Float64)
    scan = pl.scan_csv(path, separator=";", decimal_comma=True, schema=schema)
    scan.sink_parquet(out / "engine.parquet", compression="zstd", compression_level=3)


def importer(path: Path, out: Path) -> None:
    """The importer of this package, block by block."""
    plain = json.loads(path.with_suffix(".json").read_text())
    for number, block in enumerate(delimited.read(path, delimited.Layout.from_plain(plain))):
        table = block.values.with_columns(block.elapsed_ns, *block.times.iter_columns())
        part = out / f"part-{number:06d}.parquet"
        table.write_parquet(part, compression="zstd", compression_level=3)


def other_reader(path: Path, out: Path) -> None:
    """C reader of pandas on the same file, damaged lines dropped; needs pandas and pyarrow."""
    import pandas as pd

    table = pd.read_csv(
        path,
        sep=";",
        decimal=",",
        engine="c",
        na_values=["OVERRANGE"],
        on_bad_lines="skip",
        low_memory=False,
    )
    table.to_parquet(out / "pandas.parquet", compression="zstd", compression_level=3)


WAYS = {"engine": engine_alone, "importer": importer, "pandas": other_reader}


def peak_mb(way: str, path: Path, out: Path) -> float:
    """Largest memory of a process that does nothing else [MB]."""
    command = [sys.executable, __file__, "--one", way, str(path), str(out)]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return float(said.strip().splitlines()[-1])


def timed(way: str, path: Path, out: Path) -> tuple[float, float]:
    """Time of one round by the clock and of the processors [s]."""
    begin, used = time.perf_counter(), time.process_time()
    WAYS[way](path, out)
    return time.perf_counter() - begin, time.process_time() - used


def main(columns: int = 200, rows: int = 100_000, rounds: int = 7) -> None:
    """Print the comparison."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        clean = written(folder, columns, rows, messy=False)
        messy = written(folder, columns, rows, messy=True)
        size_mb = clean.stat().st_size / 1e6
        for path in (messy, clean):
            begin = time.perf_counter()
            layout = delimited.understand(path).layout()
            understood = time.perf_counter() - begin
            path.with_suffix(".json").write_text(json.dumps(layout.as_plain()))
        cases = {
            "engine, clean": ("engine", clean),
            "importer, clean": ("importer", clean),
            "importer, messy": ("importer", messy),
        }
        if importlib.util.find_spec("pandas"):  # another reader's own row, where it is installed
            cases["pandas, messy"] = ("pandas", messy)
        else:
            print("pandas isn't installed: its row is left out; it is a baseline, not a need")
        times: dict[str, list[tuple[float, float]]] = {case: [] for case in cases}
        for _ in range(rounds):
            for case, (way, path) in cases.items():
                times[case].append(timed(way, path, folder))
        print(f"{columns} columns, {rows} rows, {size_mb:.0f} MB, {rounds} rounds")
        print(f"understanding the clean file: {understood:.2f} s")
        for case, (way, path) in cases.items():
            peak = peak_mb(way, path, folder)
            print(f"{case:16s} {shown(times, case, size_mb)}, peak {peak:.0f} MB")


def shown(times: dict[str, list[tuple[float, float]]], case: str, size_mb: float) -> str:
    """Medians, spread and speed against the engine alone."""
    clock = [seconds for seconds, _ in times[case]]
    middle = statistics.median(clock)
    processors = statistics.median(used for _, used in times[case])
    base_clock = statistics.median(seconds for seconds, _ in times["engine, clean"])
    base_processors = statistics.median(used for _, used in times["engine, clean"])
    return (
        f"{middle:6.2f} s ({min(clock):.2f} to {max(clock):.2f}), {size_mb / middle:4.0f} MB/s, "
        f"{base_clock / middle:.2f} of the engine's speed; processors {processors:.2f} s, "
        f"{base_processors / processors:.2f}"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        WAYS[sys.argv[2]](Path(sys.argv[3]), Path(sys.argv[4]))
        status = Path("/proc/self/status")  # Linux only: the high-water mark of this process
        lines = status.read_text().splitlines() if status.exists() else []
        print(next((int(w.split()[1]) / 1024 for w in lines if w.startswith("VmHWM")), "nan"))
    else:
        main(*(int(word) for word in sys.argv[1:]))
