"""When a gauge is told to follow its load less and less, by rises of strain that were made up."""

from types import SimpleNamespace

import pytest

from gaugewright.services.reviewing.company import Answer, falling_away, silent

LIMITS = {"falling away": 0.1, "local bending share": 0.1, "silent share": 0.2}


def desk():
    """A desk whose book knows the limits alone."""

    def limit(name):
        return SimpleNamespace(record=SimpleNamespace(value=LIMITS[name], source="made up"))

    return SimpleNamespace(book=SimpleNamespace(limit=limit))


def pair(*rises):
    """Answers of two opposite gauges, by three rises of strain per load [1/N] each."""
    made = []
    for label, other, (first, early, late) in zip("SN", "NS", rises, strict=True):
        gauge = SimpleNamespace(uid=label, record=SimpleNamespace(label=label, opposite=other))
        watched = SimpleNamespace(gauge=gauge)
        made.append(Answer(watched, first, early, late, 1e-3, 1e-5, "recording", (0, 9)))
    return tuple(made)


@pytest.mark.parametrize("way", [1.0, -1.0])
def test_a_gauge_that_hardly_answers_is_told_in_compression_as_in_tension(way):
    sides = pair(*((0.0, way * rise, way * rise) for rise in (5.4e-9, 0.1e-9)))
    [found] = silent(desk(), sides)
    assert found.subject == "N"
    assert found.measured == pytest.approx(0.1 / 5.4)


def test_sides_of_a_bar_that_bends_otherwise_once_its_section_cracked_are_left_alone():
    # Whole, the sides stand 14 % apart, which is 4 µε of 25 µε; cracked they go together.
    sides = pair((5.6e-10, 6.2e-9, 5.4e-9), (4.9e-10, 6.1e-9, 5.4e-9))
    assert list(falling_away(desk(), sides)) == []


@pytest.mark.parametrize("feels", [0.85, 0.7])
def test_a_bond_line_that_gives_way_in_a_cracked_section_is_told_of_its_side_alone(feels):
    sides = pair((5.4e-9, 5.4e-9, feels * 5.4e-9), (5.4e-9, 5.4e-9, 5.4e-9))
    [found] = falling_away(desk(), sides)
    assert found.subject == "S"
    assert found.measured == pytest.approx(feels)


def test_far_more_than_bending_is_told_also_where_the_section_cracked_in_between():
    sides = pair((5.5e-10, 4.0e-9, 0.6 * 5.4e-9), (5.5e-10, 4.0e-9, 5.4e-9))
    assert [each.subject for each in falling_away(desk(), sides)] == ["S"]
