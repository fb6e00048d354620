"""Where a report's numbers come from, told so that somebody else can check it."""

import hashlib
from importlib import metadata

from gaugewright import __version__
from gaugewright.present.captions import coverage_text, listed
from gaugewright.present.numbers import fixed_text
from gaugewright.present.units_shown import units_sentence
from gaugewright.records.electrical import BridgeCircuit
from gaugewright.records.proof import Limit, Zero
from gaugewright.records.readings import Recording
from gaugewright.records.results import Chain, Result
from gaugewright.report.document import FileRow, ProvenanceRow, SignatureRow, TitleBlock
from gaugewright.services.bench.unread import unread_words
from gaugewright.services.campaign.coverage import COVERAGE
from gaugewright.services.campaign.exact import exact_words, taken_as_exact
from gaugewright.services.laboratory import signing
from gaugewright.services.showing.page import Page
from gaugewright.services.telling.chains import chain_tables, told

__all__ = [
    "SOFTWARE",
    "file_rows",
    "open_points",
    "provenance_rows",
    "signature_rows",
    "title_block",
]

SOFTWARE = f"gaugewright {__version__}"
_BESIDE = ("numpy", "scipy", "polars", "typst")


def file_rows(page: Page) -> tuple[FileRow, ...]:
    """Files as received, each with what became of its rows."""
    rows = []
    for entry in page.book.of(Recording):
        record = entry.record
        rows.append(
            FileRow(
                record.file_name,
                record.original_sha256,
                fixed_text(record.rows + record.rows_reported, 0),
                fixed_text(record.rows, 0),
                fixed_text(record.rows_reported, 0),
            )
        )
    return tuple(rows)


def provenance_rows(page: Page) -> tuple[ProvenanceRow, ...]:
    """Versions, the chains' hash and the head of the journal."""
    beside = ", ".join(f"{name} {metadata.version(name)}" for name in _BESIDE)
    rows = [ProvenanceRow("Software", f"{SOFTWARE}; {beside}")]
    chains = page.book.of(Chain)
    if chains:
        texts = sorted(entry.record.stages for entry in chains)
        digest = hashlib.sha256("\n".join(texts).encode()).hexdigest()
        rows.append(
            ProvenanceRow("Chains", f"{len(chains)}, SHA-256 of their texts, sorted, line by line:")
        )
        rows.append(ProvenanceRow("", digest, exact=True))
    head = page.desk.store.head()
    rows.append(ProvenanceRow("Journal", f"{fixed_text(head.seq, 0)} entries; head:"))
    rows.append(ProvenanceRow("", head.sha256, exact=True))
    return tuple(rows)


def signature_rows(page: Page) -> tuple[SignatureRow, ...]:
    """Who signed the results, with what words, when and at which head of the journal."""
    found = signing.signatures_of(page.book, signing.results_to_sign(page.book))
    return tuple(
        SignatureRow(
            signing.signer(page.desk.store, standing.entry.record),
            standing.entry.record.statement,
            page.moment(standing.entry.record.signed),
            standing.entry.record.journal_head,
            signing.standing_words(standing),
        )
        for standing in found
    )


def open_points(page: Page) -> tuple[str, ...]:
    """What was never read or reduced, and limits that nobody has confirmed."""
    words = [*unread_words(page.book)]
    chained = {entry.record.connection for entry in page.book.of(Chain)}
    circuits = [
        circuit.record.label
        for circuit in page.book.of(BridgeCircuit)
        if not any(c.uid in chained for c in page.book.connections_of(circuit.uid))
    ]
    if circuits and page.book.of(Recording):
        words.append(f"Not reduced: {listed(circuits)}.")
    exact = exact_words(taken_as_exact(page.book))
    if exact:
        words.append(f"{exact} Budgets are too small by what isn’t known of them.")
    limits = page.book.of(Limit)
    guessed = sum(entry.record.unverified for entry in limits)
    if guessed:
        words.append(
            f"{guessed} of {len(limits)} limits are those shipped with the software; nobody here "
            "has confirmed them."
        )
    return tuple(words)


def title_block(page: Page, revision: int, drawn: str) -> TitleBlock:
    """What every sheet says of itself."""
    campaign = page.desk.store.campaign.record
    zeros = {entry.record.zero for entry in page.book.of(Result) if entry.record.zero}
    # A mean over pairs counts from the zero of each: "zero before test or before pour".
    kinds = sorted({kind for zero in zeros for kind in zero.removeprefix("zero ").split(" or ")})
    taken = sorted({entry.record.kind.value for entry in page.book.of(Zero)})
    chains, shapes = len(page.book.of(Chain)), len(chain_tables(page))
    problems = page.desk.store.problems()
    return TitleBlock(
        f"{campaign.label}: {campaign.title}",
        f"Report, revision {revision}",
        units_sentence(page.system),
        listed(kinds or taken) or "none taken",
        coverage_text(COVERAGE),
        f"{told(chains, shapes)}; see Corrections" if chains else "none",
        f"differences on disk: {len(problems)}" if problems else "hashes and journal agree",
        drawn,
    )
