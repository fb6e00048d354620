"""Prints the table of docs/explanations/fault-finding.md: benches judged, fault by fault.

    python -m benchmarks.fault_finding SEED COUNT [SEQUENCES]

SEQUENCES gauges are also read one thing at a time, each as the finder offers it, until settled.
"""

import sys

import numpy as np

from gaugewright.calc.diagnosis_next import next_steps
from gaugewright.services.faults_known import fault_book
from tests.calc import bench_scores as scores
from tests.calc import benches

OFFERED = (
    *("A-B", "A-C", "B-C", "insulation", "bridge", "shunt step", "A to bar", "B to bar"),
    *("tab 1 to tab 2", "A to tab 1"),
)


def percent(values) -> str:
    """Share of true values, or a dash without any."""
    return f"{100 * np.mean(values):.0f} %" if len(values) else "-"


def row(name, group) -> str:
    """One line of the table."""
    clear = [one for one in group if one.case.clear]
    cells = [
        str(len(group)),
        str(len(clear)),
        percent([one.first for one in clear]),
        percent([one.by_group for one in clear]),
        percent([one.third for one in clear]),
        percent([one.called_healthy and one.settled for one in clear]),
        percent([one.repair and not one.by_group for one in clear]),
        percent([one.rule for one in clear]),
    ]
    return f"| {name} | " + " | ".join(cells) + " |"


def steps_needed(case, finder, meters, efforts):
    """Readings until settled, and whether the first group is then right; ten at most."""
    rng = np.random.default_rng(1)
    every = benches.shown(case.truth, OFFERED, case.ohmmeter, rng)
    of = {one.what: scores.as_reading(one) for one in every}
    efforts = [one for one in efforts if one.what in of]
    taken = [of["bridge"]]
    while True:
        told = finder.diagnosis(taken)
        steps = next_steps(finder, told, (taken, {}), efforts, meters)
        steps = [step for step in steps if step.what in of and step.bits > 0.02]
        if not steps or len(taken) == 10:
            right = any(scores.is_right(r.cause, case.classes) for r in told.first.named)
            return len(taken), right, told.settled
        taken.append(of[steps[0].what])


def main(seed: int, count: int, sequences: int) -> None:
    """Draw, judge and print."""
    book = fault_book()
    found = scores.run(book, seed, count)
    for name, group in scores.by_kind(found).items():
        print(row(name, group))
    single = scores.singles(found)
    print(row("all single faults", single))
    for name, group in (
        ("beyond meters", [one for one in single if one.case.seen]),
        ("beyond meters and records", [one for one in single if one.case.clear]),
    ):
        print(
            name,
            len(group),
            *(
                percent([getattr(o, w) for o in group])
                for w in ("first", "by_group", "third", "rule")
            ),
        )
    healthy = [one for one in found if one.case.kind == "healthy"]
    print(
        "healthy",
        len(healthy),
        "repair",
        sum(o.repair for o in healthy),
        "rule table",
        sum(o.rule_repair for o in healthy),
    )
    print("named", np.mean([o.named for o in single]))
    for what, group in (
        ("healthy first", [o for o in found if o.called_healthy]),
        ("fault first", [o for o in found if not o.called_healthy]),
    ):
        print(
            what,
            [
                (round(a, 2), round(b, 2), n, round(s, 3), round(r, 3))
                for a, b, n, s, r in scores.reliability(group)
            ],
        )
    made = scores.finders(book)
    needed = [
        steps_needed(one.case, made[one.case.size], book.meters, book.efforts)
        for one in found[:sequences]
        if one.case.kind not in ("unlisted", "two at once")
    ]
    if needed:
        counts = [n for n, _, _ in needed]
        print(
            "readings",
            len(needed),
            "median",
            np.median(counts),
            "nine in ten",
            np.quantile(counts, 0.9),
            "right",
            percent([r for _, r, _ in needed]),
            "settled",
            percent([s for _, _, s in needed]),
        )


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]) if len(sys.argv) > 3 else 0)
