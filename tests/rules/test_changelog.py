"""The changelog is put together from the waiting files, changed results first."""

from pathlib import Path

from tools import changelog


def test_a_release_puts_results_first_keeps_older_ones_and_empties_the_folder(
    tmp_path: Path,
) -> None:
    (tmp_path / "changes").mkdir()
    (tmp_path / "CHANGELOG.md").write_text(
        "# Changes\n\nWords.\n\n## 0.1.0 (2026-12-01)\n\n- old\n"
    )
    for name, text in {
        "12.added.md": "A page.\n",
        "lead-loss.result.md": "Lead loss\nwas taken twice.\n",
        "README.md": "How.\n",
    }.items():
        (tmp_path / "changes" / name).write_text(text)
    assert changelog.release(tmp_path, "0.2.0", "2027-01-31") == 2
    assert (tmp_path / "CHANGELOG.md").read_text() == (
        "# Changes\n\nWords.\n\n"
        "## 0.2.0 (2027-01-31)\n\n"
        "### Results that come out differently\n\n- Lead loss\n  was taken twice.\n\n"
        "### Added\n\n- A page.\n\n"
        "## 0.1.0 (2026-12-01)\n\n- old\n"
    )
    assert [path.name for path in (tmp_path / "changes").iterdir()] == ["README.md"]


def test_the_first_release_takes_the_place_of_the_line_that_there_is_none(tmp_path: Path) -> None:
    (tmp_path / "changes").mkdir()
    (tmp_path / "CHANGELOG.md").write_text("# Changes\n\nNothing has been released yet.\n")
    (tmp_path / "changes" / "start.added.md").write_text("It runs.\n")
    changelog.release(tmp_path, "0.1.0", "2026-12-01")
    text = (tmp_path / "CHANGELOG.md").read_text()
    assert text == "# Changes\n\n## 0.1.0 (2026-12-01)\n\n### Added\n\n- It runs.\n"
