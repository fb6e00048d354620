"""Progress comes from counts; where nobody watches it stays short."""

import io

from gaugewright.cli.progress import STEPS, Progress


def test_a_long_count_writes_only_a_few_lines() -> None:
    stream = io.StringIO()
    with Progress(stream) as progress:
        for done in range(1001):
            progress(done, 1000, "rows")
    lines = stream.getvalue().splitlines()
    assert len(lines) == STEPS + 1
    assert lines[0] == "rows: 0 of 1000"
    assert lines[-1] == "rows: 1000 of 1000"


def test_nothing_done_twice_is_said_once() -> None:
    stream = io.StringIO()
    with Progress(stream) as progress:
        progress(0, 10, "blocks")
        progress(0, 10, "blocks")
    assert stream.getvalue() == "blocks: 0 of 10\n"


def test_an_unknown_total_is_said_as_a_count() -> None:
    stream = io.StringIO()
    with Progress(stream) as progress:
        progress(7, 0, "lines")
    assert stream.getvalue() == "lines: 7\n"


def test_a_terminal_gets_bars_and_no_plain_lines() -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    stream = Terminal()
    with Progress(stream) as progress:
        progress(0, 4, "blocks")
        progress(4, 4, "blocks")
    assert "4/4" in stream.getvalue()
    assert "blocks: 4 of 4" not in stream.getvalue()


def test_work_that_names_each_thing_it_does_is_still_one_piece() -> None:
    stream = io.StringIO()
    with Progress(stream) as progress:
        for number in range(1, 101):
            progress(number, 100, f"gauge {number}")
    assert len(stream.getvalue().splitlines()) <= STEPS + 1
    assert stream.getvalue().splitlines()[-1] == "gauge 100: 100 of 100"


def test_the_next_piece_of_work_begins_anew() -> None:
    stream = io.StringIO()
    with Progress(stream) as progress:
        progress(3, 3, "reading")
        progress(0, 3, "writing")
        progress(3, 3, "writing")
    assert stream.getvalue().splitlines() == [
        "reading: 3 of 3",
        "writing: 0 of 3",
        "writing: 3 of 3",
    ]
