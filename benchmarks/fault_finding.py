"""Judges benches, fault by fault, and writes the tables of docs/explanations/fault-finding.md.

    python -m benchmarks.fault_finding SEED COUNT [SEQUENCES] [--write]

SEQUENCES gauges of each fault are also read one thing at a time, each as the finder offers it,
until settled. Without --write the tables are only printed.
"""

import sys
from pathlib import Path

import numpy as np

from gaugewright.calc.diagnosis_circuit import Setup
from gaugewright.calc.diagnosis_next import next_steps
from gaugewright.services.diagnosis.faults_known import fault_book
from tests.calc import bench_bridges, benches
from tests.calc import bench_scores as scores

PAGE = Path(__file__).parents[1] / "docs" / "explanations" / "fault-finding.md"
BEGIN, END = "<!-- tables: made by benchmarks.fault_finding -->", "<!-- end of tables -->"
OFFERED = (
    *("A-B", "A-C", "B-C", "insulation", "bridge", "shunt step", "A to bar", "B to bar"),
    *("tab 1 to tab 2", "A to tab 1"),
)
HEAD = (
    *("Fault", "Gauges", "Clear", "First cause", "First group", "In first three", "Missed"),
    *("Wrong repair", "Told, and right", "Readings needed", "Rule table"),
)
DOUBLE = ("two at once", "two at once, one hidden")


def percent(values) -> str:
    """Share of true values, or a dash without any."""
    return f"{100 * np.mean(values):.0f} %" if len(values) else "-"


def ruled(head, rows) -> str:
    """A table of the page."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines) + "\n"


def told_and_right(group, sure) -> str:
    """Mean percentage told of settled faults, and how many were right."""
    told = [one for one in group if one.settled and not one.called_healthy]
    if not told:
        return "-"
    mean = np.mean([one.weight * sure for one in told])
    return f"{100 * mean:.0f} %, {percent([one.by_group for one in told])} of {len(told)}"


def row(name, group, needed, sure) -> list[str]:
    """One line of the table, of clear faults."""
    clear = [one for one in group if one.case.clear]
    counts = [n for n, right, _ in needed if right]
    readings = f"{np.median(counts):.0f} ({len(counts)} of {len(needed)} right)" if counts else "-"
    return [
        name,
        str(len(group)),
        str(len(clear)),
        percent([one.first for one in clear]),
        percent([one.by_group for one in clear]),
        percent([one.third for one in clear]),
        percent([one.called_healthy and one.settled for one in clear]),
        percent([one.repair and not one.by_group for one in clear]),
        told_and_right(clear, sure),
        readings,
        percent([one.rule for one in clear]),
    ]


def steps_needed(case, finder, book):
    """Readings until settled, whether the first group is then right, and whether it settled."""
    rng = np.random.default_rng(1)
    every = benches.shown(case.truth, OFFERED, case.ohmmeter, rng)
    of = {one.what: scores.as_reading(one) for one in every}
    efforts = [one for one in book.efforts if one.what in of]
    taken = [of["bridge"]]
    while True:
        told = finder.diagnosis(taken)
        steps = next_steps(finder, told, (taken, {}), efforts, book.meters)
        steps = [step for step in steps if step.what in of and step.bits > 0.02]
        if not steps or len(taken) == 10:
            right = any(scores.is_right(r.cause, case.classes) for r in told.first.named)
            return len(taken), right, told.settled
        taken.append(of[steps[0].what])


def of_three_leads(book, seed: int, count: int, sequences: int):
    """Tables and sentences of quarter bridges with three leads."""
    sure = book.allowances.sure
    found = scores.run(book, seed, count)
    made = scores.finders(book)
    kinds = {name: group for name, group in scores.by_kind(found).items() if name != "healthy"}
    needed = {
        name: [
            steps_needed(one.case, made[one.case.size], book)
            for one in [one for one in group if one.case.clear][:sequences]
        ]
        for name, group in kinds.items()
        if name != "unlisted"
    }
    rows = [row(name, group, needed.get(name, []), sure) for name, group in kinds.items()]
    yield ruled(HEAD, rows)
    single = scores.singles(found)
    yield ruled(
        ("", "Gauges", "First cause", "First group", "First three", "Rule table"),
        [
            [name, str(len(group))]
            + [
                percent([getattr(o, w) for o in group])
                for w in ("first", "by_group", "third", "rule")
            ]
            for name, group in (
                (
                    "Single faults beyond what meters alone leave open",
                    [o for o in single if o.case.seen],
                ),
                (
                    "Single faults beyond what meters and records leave open",
                    [o for o in single if o.case.clear],
                ),
                ("Two at once, both beyond it", kinds.get(DOUBLE[0], [])),
            )
        ],
    )
    yield "\n".join(f"- {words}" for words in _sentences(found, kinds, needed, sure)) + "\n"


def _sentences(found, kinds, needed, sure):
    healthy = [one for one in found if one.case.kind == "healthy"]
    yield (
        f"Of {len(healthy)} healthy gauges {sum(o.repair for o in healthy)} were sent to repair; "
        f"the rule table sends {sum(o.rule_repair for o in healthy)}."
    )
    single = [one for one in scores.singles(found) if one.case.clear]
    yield f"The first group names {np.mean([o.named for o in single]):.1f} causes on average."
    shown = [one for one in found if not one.called_healthy]
    parts = []
    for low, high, many, told, right in scores.reliability(shown, (0.0, 0.93, 0.98, 0.999, 1.01)):
        del low, high
        parts.append(f"told {100 * told * sure:.0f} % ({many} gauges), {100 * right:.0f} % right")
    yield "Percentages of a fault in first place: " + "; ".join(parts) + "."
    called = [one for one in found if one.called_healthy and one.settled]
    right = percent([one.case.kind == "healthy" for one in called])
    yield (
        f"Healthy in first place and settled: right in {right} of {len(called)}; three gauges of "
        "four in the benches are faulty, many by less than anyone sees, so it gets no percentage."
    )
    every = [one for name, of in needed.items() if name not in DOUBLE for one in of]
    if every:
        counts = [n for n, _, _ in every]
        yield (
            f"Read one thing at a time, each as offered, half of {len(every)} gauges are settled "
            f"after {np.median(counts):.0f} readings and nine in ten after "
            f"{np.quantile(counts, 0.9):.0f}; then {percent([r for _, r, _ in every])} are right."
        )


def of_other_circuits(book, seed: int, count: int) -> str:
    """Table of half and full bridges and other leads."""
    rows = []
    for circuit in bench_bridges.CIRCUITS:
        rng = np.random.default_rng(seed)
        cases = [bench_bridges.drawn(rng, circuit) for _ in range(count)]
        clear, wrong, missed, healthy, repaired = [], 0, 0, 0, 0
        for case in cases:
            nominal, wire = case.size
            finder = book.finder(Setup(nominal, wire, nominal, None, nominal, circuit))
            told = finder.diagnosis([scores.as_reading(one) for one in case.readings])
            if case.kind == "healthy":
                healthy, repaired = healthy + 1, repaired + told.repair
            elif case.is_clear:
                named = any(bench_bridges.is_right(r.cause, case.names) for r in told.first.named)
                clear.append(named)
                wrong += told.repair and not named
                missed += told.settled and told.first.label == "healthy"
        book.kept.clear()
        cells = (len(cases), len(clear), percent(clear), missed, wrong, healthy, repaired)
        rows.append([circuit.replace(" ", " bridge, ") + " wires", *map(str, cells)])
        rows[-1][0] = rows[-1][0].replace("opposite bridge", "opposite pair")
    head = ("Circuit", "Gauges", "Clear", "First group", "Missed", "Wrong repair")
    return ruled((*head, "Healthy", "of them to repair"), rows)


def main(seed: int, count: int, sequences: int, *, is_written: bool) -> None:
    """Draw, judge, and print or write."""
    book = fault_book()
    parts = list(of_three_leads(book, seed, count, sequences))
    parts.append(f"Other circuits, the same seed, {count // 5} gauges of each:\n")
    parts.append(of_other_circuits(book, seed, count // 5))
    text = "\n".join(parts)
    print(text)
    if is_written:
        page = PAGE.read_text(encoding="utf-8")
        before, after = page.partition(BEGIN)[0], page.partition(END)[2]
        PAGE.write_text(f"{before}{BEGIN}\n\n{text}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    numbers = [int(text) for text in sys.argv[1:] if text != "--write"]
    main(*[*numbers, 0][:3], is_written="--write" in sys.argv)
