"""Importers beside the shipped one: found, judged, and listed when they can't be used."""

import sys
import types
from importlib.metadata import EntryPoint

import pytest

from gaugewright.errors import FileError, InputError
from gaugewright.sources import files, plugins
from gaugewright.sources.match import Match
from gaugewright.sources.plugins import DelimitedText, installed, ranked
from gaugewright.sources.tables import Table

OURS = [importer.label for importer in plugins.SHIPPED]


class Punched:
    label = "punched cards"

    def match(self, head: bytes) -> Match:
        return Match(0.9 if head.startswith(b"CARD") else 0.0, "it begins with CARD, or doesn't")

    def tables(self, path):
        return (Table("deck", 2, 2),)

    def as_text(self, path, table, folder, *, rows=None):
        target = folder / "cards.txt"
        target.write_text("t (s)\tx (kN)\n" + path.read_text().removeprefix("CARD "))
        return target


class OwnTrouble(BaseException):
    """Not an Exception: the worst a plug-in can raise while it is made."""


def entry(name: str, value: str) -> EntryPoint:
    return EntryPoint(name, value, plugins.GROUP)


@pytest.fixture
def module(monkeypatch) -> types.ModuleType:
    made = types.ModuleType("invented_plugin")
    monkeypatch.setitem(sys.modules, "invented_plugin", made)
    return made


def test_the_shipped_importer_is_always_there() -> None:
    assert [importer.label for importer in installed([]).importers] == OURS
    assert "delimited text" in [importer.label for importer in installed().importers]


def test_a_plugin_may_be_an_object_or_a_class(module) -> None:
    module.ready, module.Punched = Punched(), Punched
    for value in ("invented_plugin:ready", "invented_plugin:Punched"):
        found = installed([entry("cards", value)])
        assert [importer.label for importer in found.importers] == [*OURS, "punched cards"]
        assert found.problems == ()


def raising() -> type:
    class Raising(Punched):
        def __init__(self) -> None:
            raise OwnTrouble("no cards left")

    return Raising


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("no_such_module:thing", "ModuleNotFoundError"),
        ("invented_plugin:missing", "AttributeError"),
        ("invented_plugin:bare", "lacks label, match, tables or as_text"),
        ("invented_plugin:Raising", "OwnTrouble: no cards left"),
        ("invented_plugin:twin", "already taken"),
    ],
)
def test_a_plugin_that_cannot_be_used_is_listed_with_the_reason(module, value, words) -> None:
    module.bare, module.Raising, module.twin = object(), raising(), DelimitedText()
    found = installed([entry("cards", value)])
    assert [importer.label for importer in found.importers] == OURS
    [problem] = found.problems
    assert problem.name == "cards"
    assert words in problem.what


def test_the_best_fit_comes_first_and_what_does_not_fit_is_left_out(tmp_path) -> None:
    importers = [DelimitedText(), Punched()]
    path = tmp_path / "some.txt"
    path.write_bytes(b"CARD 1;2\n3;4\n")
    assert [i.label for i, _ in ranked(path, importers)] == ["punched cards", "delimited text"]
    path.write_bytes(b"1;2\n3;4\n")
    assert [i.label for i, _ in ranked(path, importers)] == ["delimited text"]


@pytest.mark.parametrize("data", [b"", b"\x00" * 50, b"PK\x03\x04" + bytes(range(200)) * 3])
def test_what_is_no_text_is_refused_with_every_reason(tmp_path, data) -> None:
    path = tmp_path / "some.bin"
    path.write_bytes(data)
    with pytest.raises(FileError, match=r"some\.bin: fits no importer"):
        ranked(path, [DelimitedText(), Punched()])


def test_a_missing_file_is_named(tmp_path) -> None:
    with pytest.raises(FileError, match=r"gone\.txt: can't be read"):
        ranked(tmp_path / "gone.txt", [DelimitedText()])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-le", "latin-1"])
def test_text_in_any_usual_encoding_fits_the_shipped_importer(encoding) -> None:
    head = ("Time (s);Air (°C)\r\n" + "0;1,5\r\n" * 50).encode(encoding)
    assert DelimitedText().match(head).score > 0


def test_a_plug_in_that_fits_best_is_read_through_the_same_reader(tmp_path, monkeypatch) -> None:
    with_cards = installed([])
    found = plugins.Installed((*with_cards.importers, Punched()), ())
    monkeypatch.setattr(plugins, "installed", lambda: found)
    path = tmp_path / "a.cards"
    path.write_text("CARD 0\t1\n1\t2\n")
    layout = files.understand(path).layout()
    with files.reading(path, layout) as reading:
        [block] = list(reading)
    assert (layout.importer, block.values["x"].to_list()) == ("punched cards", [1, 2])


def test_importers_that_fit_equally_well_are_shown_to_the_person(tmp_path, monkeypatch) -> None:
    class Other(Punched):
        label = "other cards"

    found = plugins.Installed((DelimitedText(), Punched(), Other()), ())
    monkeypatch.setattr(plugins, "installed", lambda: found)
    path = tmp_path / "a.cards"
    path.write_text("CARD 0\t1\n1\t2\n")
    with pytest.raises(InputError, match="one of punched cards, other cards"):
        files.understand(path)
    assert files.understand(path, importer="other cards").importer == "other cards"


@pytest.mark.parametrize(
    ("score", "reason"), [(1.1, "x"), (-0.1, "x"), (float("nan"), "x"), (1, " ")]
)
def test_a_match_outside_its_range_or_without_a_reason_is_refused(score, reason) -> None:
    with pytest.raises(InputError):
        Match(score, reason)
