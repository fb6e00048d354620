"""How often each kind of fault is found, how often seen where it isn't, and how verdicts stand.

Prints the two tables of docs/explanations/findings.md. Beams are made by the tests' generator,
which shares nothing with the checks; one campaign each, looked through by the ordinary review.

    python -m benchmarks.findings_found findings --count 10 --seed 40002
    python -m benchmarks.findings_found verdicts --count 10 --seed 40002
"""

import argparse
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.services import beam_campaign as campaign
from tests.services import odd_beams as odd

OPEN = "can't be told"


def findings(base: Path, uid: dict[str, str], count: int, seed: int) -> Iterator[str]:
    """Rows: kind, found of made, precision of its codes, gauges wrongly given one of them."""
    found: Counter[str] = Counter()
    right: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    healthy = 0
    for kind in ("none", *odd.FAULTS):
        for number in range(count):
            told, bad, whole = campaign.trial(base, uid, kind, seed, number)
            codes = odd.FAULTS.get(kind, ())
            found[kind] += any(label in bad and code in codes for label, code in told)
            healthy += whole - len(bad)
            for label, code in told:
                (right if label in bad else wrong)[code] += 1
        yield f"done {kind}: {found[kind]} of {count}"
    yield "| Kind | Found | Precision of its findings | Healthy gauges wrongly told |"
    yield "|---|---|---|---|"
    for kind, codes in odd.FAULTS.items():
        good, bad_ones = (sum(counted[code] for code in codes) for counted in (right, wrong))
        precision = good / (good + bad_ones) if good + bad_ones else float("nan")
        yield (
            f"| {kind} | {found[kind]} of {count} | {precision:.2f} | "
            f"{bad_ones} of {healthy} ({100 * bad_ones / healthy:.1f} %) |"
        )


def verdicts(base: Path, uid: dict[str, str], count: int, seed: int) -> Iterator[str]:
    """Rows: what happened, with or without company, right, open and wrong verdicts."""
    yield "| What happened | Others read | Right | Can't be told | Wrong |"
    yield "|---|---|---|---|---|"
    for others in (True, False):
        for kind, wanted in odd.CAUSES.items():
            told = Counter(
                campaign.verdict(base, uid, kind, seed, number, others=others).cause
                for number in range(count)
            )
            wrong = count - told[wanted] - told[OPEN]
            yield (
                f"| {kind} | {'seven more' if others else 'none'} | {told[wanted]} of {count} | "
                f"{told[OPEN]} | {wrong} |"
            )


def main(typed: Sequence[str] | None = None) -> None:
    """Print one of the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("table", choices=("findings", "verdicts"))
    parser.add_argument("--count", type=int, default=10)
    parser.add_argument("--seed", type=int, default=40_002)
    asked = parser.parse_args(typed)
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder) / "base"
        uid = campaign.lay_down(base)
        made = {"findings": findings, "verdicts": verdicts}[asked.table]
        for line in made(base, uid, asked.count, asked.seed):
            print(line, flush=True)


if __name__ == "__main__":
    main()
