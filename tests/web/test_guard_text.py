"""What a person, or a file, wrote is shown as text and never runs."""

import io
import re
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import quote

import pytest
from starlette.datastructures import UploadFile
from starlette.testclient import TestClient

from gaugewright.errors import InputError
from gaugewright.records.identity import working_context
from gaugewright.records.specimen import Campaign
from gaugewright.services.campaign import campaigns
from gaugewright.settings import Settings
from gaugewright.web import uploads

HOSTILE = (
    "<script>alert(1)</script>",
    '"><svg onload=alert(1)>',
    "' autofocus onfocus='alert(1)",
    "</title><script>alert(1)</script>",
    "{{ 7*7 }}{% raw %}",
    "javascript:alert(1)",
)
RUNS = ("onload", "onclick", "onfocus", "onerror", "style", "srcdoc")


class Elements(HTMLParser):
    """What a browser would make of a page: elements, their attributes, text of scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.script_text = ""
        self._in_script = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, {name: value or "" for name, value in attrs}))
        self._in_script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self._in_script = self._in_script and tag != "script"

    def handle_data(self, data: str) -> None:
        if self._in_script:
            self.script_text += data.strip()


def assert_nothing_runs(text: str) -> None:
    page = Elements(text)
    assert page.script_text == ""
    for tag, attributes in page.found:
        assert tag not in ("style", "iframe", "object", "embed")
        assert [name for name in attributes if name in RUNS or name.startswith("on")] == []
        if tag == "script":
            assert attributes["src"].startswith("/static/")
        for name in ("href", "src", "action"):
            value = attributes.get(name, "/")
            assert re.match(r"/(?!/)|#", value), (tag, value)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_script_in_a_title_is_shown_and_doesnt_run(
    client: TestClient, home: Path, in_force: Settings, text: str
) -> None:
    record = Campaign(label="odd", title=text, zone="UTC", purpose=text)
    campaigns.new(home / "odd", record, in_force, context=working_context()).close()
    for page in ("/", "/c/odd/plan", "/c/odd/copy", "/people"):
        answer = client.get(page)
        assert answer.status_code == 200
        assert_nothing_runs(answer.text)
    assert "49" not in Elements(client.get("/c/odd/plan").text).script_text


@pytest.mark.parametrize("text", HOSTILE)
def test_a_script_in_a_name_is_shown_and_doesnt_run(client: TestClient, text: str) -> None:
    answer = client.post("/people/new", data={"label": text, "name": text, "role": text})
    assert answer.status_code == 200
    assert_nothing_runs(answer.text)
    assert_nothing_runs(client.post("/people/pair", data={"label": text}).text)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_script_in_an_address_or_a_field_is_shown_and_doesnt_run(
    client: TestClient, text: str
) -> None:
    told = quote(text, safe="")
    for path in (
        f"/c/beam/search?label={told}",
        f"/c/{told}/plan",
        f"/{told}",
        f"/pair?code={told}",
    ):
        assert_nothing_runs(client.get(path).text)
    form = dict.fromkeys(("folder", "title", "zone", "units", "purpose"), text)
    answer = client.post("/new", data=form)
    assert answer.status_code == 422
    assert_nothing_runs(answer.text)


@pytest.mark.parametrize(
    "name",
    [
        "../x.csv",
        "a/b.csv",
        "a\\b.csv",
        "C:x.csv",
        "/etc/passwd",
        "..",
        ".",
        "",
        "x\0.csv",
        "x\n.csv",
        "a" * 201,
        "x\N{RIGHT-TO-LEFT OVERRIDE}vsc.exe",
    ],
)
def test_a_file_whose_name_holds_a_path_is_refused(tmp_path: Path, name: str) -> None:
    upload = UploadFile(io.BytesIO(b"1;2\n"), filename=name)
    with pytest.raises(InputError, match=r"^file name is "):
        uploads.keep(upload, tmp_path / "incoming", working_context())
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_a_file_is_kept_under_a_name_of_our_own(tmp_path: Path) -> None:
    upload = UploadFile(io.BytesIO(b"1;2\n"), filename="pull 1.csv")
    first = uploads.keep(upload, tmp_path, working_context())
    second = uploads.keep(upload, tmp_path, working_context())
    assert first.path != second.path
    assert "pull" not in first.path.name
    assert (first.name, first.size, first.path.read_bytes()) == ("pull 1.csv", 4, b"1;2\n")


@pytest.mark.parametrize("name", ["x.c$v", "x.", "x.verylongsuffix", "x.ä", ".csv"])
def test_only_a_plain_suffix_is_taken_over(tmp_path: Path, name: str) -> None:
    upload = UploadFile(io.BytesIO(b"1"), filename=name)
    assert uploads.keep(upload, tmp_path, working_context()).path.suffix == ""


def test_an_empty_file_is_refused_and_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="something in it"):
        uploads.keep(UploadFile(io.BytesIO(b""), filename="x.csv"), tmp_path, working_context())
    assert list(tmp_path.iterdir()) == []
