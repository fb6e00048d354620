"""One address for each page of the app on the demo, by the pattern that its route has."""

from gaugewright.records.gauges import BenchStep, Gauge
from gaugewright.records.readings import Event, Finding, Recording
from gaugewright.records.results import Result
from gaugewright.records.specimen import Bar
from gaugewright.services.bench.methods import complete_methods
from gaugewright.services.campaign.book import Book

__all__ = ["MORE", "NOT_IN_DEMO", "NOT_PAGES", "addresses"]

# Answers that are no page: files, pieces for a script, pictures; and pages of a passing moment.
NOT_PAGES = frozenset(
    {
        "/c/{name}/gates/{gate}/sheet.csv",
        "/c/{name}/gates/{gate}/sheet.xlsx",
        "/c/{name}/gates/{gate}/sheet/blank",
        "/c/{name}/gates/{gate}/sheet/filled",
        "/c/{name}/bench/blank",
        "/c/{name}/bench/record",
        "/c/{name}/bench/do",
        "/c/{name}/bench/kept/{uid}/right",  # the form of bench/do, of a step done by a method
        "/c/{name}/bench/loss",
        "/c/{name}/plan/labels.pdf",
        "/c/{name}/plan/labels/{lead}/{place}.svg",
        "/c/{name}/plan/schedule/calendar",
        "/c/{name}/plan/schedule/sheet",
        "/c/{name}/plan/supplies.{kind}",
        "/c/{name}/handed/{file_name}",
        "/c/{name}/handover/{file_name}",
        "/c/{name}/import/{uid}",
        "/c/{name}/jobs/{uid}",
        "/c/{name}/photos/{uid}",
        "/c/{name}/readings/{recording}/data",
        "/c/{name}/readings/{recording}/table.csv",
        "/c/{name}/results/numbers.csv",
        "/c/{name}/test-day/{part}",
        "/c/{name}/test-day/noted",
        "/jobs/{uid}",
    }
)

# The demo has no coupon and no calibration of a bar: the tests of those pages open them.
NOT_IN_DEMO = frozenset(
    {"/c/{name}/results/calibrations/{label:path}", "/c/{name}/results/coupons/{label:path}"}
)

# Pages that look otherwise than the one their pattern has: by area.
MORE = {
    "gauges": ("/c/demo/gauges/L3-R6-S", "/c/demo/gauges/P-1"),  # lost; on a plate
    "search": ("/c/demo/search",),  # nothing asked yet
}


def addresses(book: Book) -> dict[str, str]:
    """Address of a page with something on it for every pattern, on the demo called demo."""
    finding, result = book.of(Finding)[0], book.of(Result)[0]
    recording = next(r for r in book.of(Recording) if "test" in r.record.label)
    bar = next(b for b in book.of(Bar) if b.record.label == "L3").record.label
    step = next(s for s in book.of(BenchStep) if s.record.step == "bond")
    label = "L1-M-U"
    assert any(g.record.label == label for g in book.of(Gauge))
    method = complete_methods(book)[0].label
    inside = {
        "": "",
        "change": "change",
        "copy": "copy",
        "search": "search?label=L1",
        "gauges/{label:path}": f"gauges/{label}",
        "drawings/{kind}/{label:path}": f"drawings/bar/{bar}",
        "plan/enter/{key}": "plan/enter/bar",
        "plan/enter/{key}/{label:path}": f"plan/enter/bar/{bar}",
        "bench/kept/{uid}": f"bench/kept/{step.uid}",
        "bench/methods/{label}": f"bench/methods/{method}",
        "wiring/{label:path}": "wiring/A01",
        "gates/{gate}/{gauge}": f"gates/before%20test/{label}",
        "gates/{gate}/{gauge}/diagnosis": "gates/before%20test/D-0/diagnosis",
        "events/{uid}": f"events/{book.of(Event)[0].uid}",
        "readings/{recording}": f"readings/{recording.uid}",
        "readings/{recording}/table": f"readings/{recording.uid}/table",
        "review/{uid}": f"review/{finding.uid}",
        "review/{uid}/verdict": f"review/{finding.uid}/verdict",
        "results/budget/{uid}": f"results/budget/{result.uid}",
        "evidence": f"evidence/{result.uid}",
        "evidence/{typed}": f"evidence/{result.uid}",
        "results/gauges/{label:path}": f"results/gauges/{label}",
        "results/long/{label:path}": f"results/long/{label}",
        "results/bars/{bar:path}": f"results/bars/{bar}",
        "results/rosettes/{group:path}": "results/rosettes/P",
        "results/cycles/{label:path}": f"results/cycles/{label}",
        "results/sections/{label}": "results/sections/H3%20at%201.80%20m",
    }
    outside = {"/answers/{tool}": "/answers/reading", "/guides/{key}": "/guides/gate-check"}
    return outside | {f"/c/{{name}}/{route}": f"/c/demo/{place}" for route, place in inside.items()}
