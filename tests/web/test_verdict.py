"""Gauge or specimen: a finding leads to its evidence, and a verdict or none stands above it."""

import re

from starlette.testclient import TestClient

from tests.web.reading import rows, words


def pages(reader: TestClient) -> dict[str, str]:
    """Words of the verdict's page by code of the finding, of those about rows."""
    first = reader.get("/c/demo/review").text
    found = {}
    for url in dict.fromkeys(re.findall(r'href="(/c/demo/review/[0-9A-Z]{26})"', first)):
        case = reader.get(url).text
        link = re.search(r'href="([^"]+/verdict)"', case)
        if link:
            code = re.search(r"<h2>([^<]+)</h2>", case)
            assert code is not None
            found[code[1].lower()] = reader.get(link[1]).text
    return found


def test_the_lost_gauge_and_the_one_that_loosens_are_told_with_their_evidence(
    reader: TestClient,
) -> None:
    found = pages(reader)
    assert "The gauge is lost." in words(found["over-range"])
    assert "The bond of the gauge gives way." in words(found["falling away"])
    for code in ("over-range", "falling away"):
        evidence = rows(found[code].partition('id="evidence"')[2].partition("</section>")[0])
        assert evidence[0] == ["Speaks for", "Weight", "What"]
        assert evidence[1][0] == "the gauge"


def test_a_finding_at_a_gate_has_no_instant_to_ask_about(reader: TestClient) -> None:
    first = reader.get("/c/demo/review").text
    for url in dict.fromkeys(re.findall(r'href="(/c/demo/review/[0-9A-Z]{26})"', first)):
        case = reader.get(url).text
        if "<h2>Gate failed</h2>" in case:
            assert "/verdict" not in case
            assert reader.get(url + "/verdict").status_code == 422


def test_a_finding_that_is_not_there_is_not_found(reader: TestClient) -> None:
    assert reader.get("/c/demo/review/01M4WFY1R000000000000000ZZ/verdict").status_code == 404
