"""The worked pages of the documentation: what they let the library answer is what it answers."""

import doctest
import re
from pathlib import Path

import pytest

PAGES = sorted((Path(__file__).parents[2] / "docs" / "explanations" / "by-hand").glob("*.md"))
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.DOTALL | re.MULTILINE)


def test_there_is_a_page_for_each_family():
    names = {page.stem for page in PAGES}
    families = {"bridges", "shunts-and-instruments", "gauges", "leads", "bars", "uncertainty"}
    assert families | {"calibration", "index"} <= names


@pytest.mark.parametrize(
    "worked", [path for path in PAGES if path.stem != "index"], ids=lambda path: path.stem
)
def test_every_answer_on_the_page_is_the_library_s(worked):
    text = "\n".join(BLOCK.findall(worked.read_text(encoding="utf-8")))
    example = doctest.DocTestParser().get_doctest(text, {}, worked.stem, str(worked), 0)
    assert len(example.examples) >= 3
    runner = doctest.DocTestRunner(verbose=False)
    said: list[str] = []
    runner.run(example, out=said.append)
    assert runner.failures == 0, "".join(said)
