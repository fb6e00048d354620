"""Pages for one hand ask for taps only."""

from tools.repository import SOURCE


def test_nothing_waits_for_a_drag_or_for_two_fingers() -> None:
    """No script of these pages listens to moves or touches, and none of them is dragged."""
    shared = ("base.html", "listing.html", "channel.html", "zeros.html", "identity.html")
    templates = [SOURCE / "web" / "templates" / name for name in (*shared, "survival.html")]
    text = "".join(path.read_text(encoding="utf-8") for path in templates)
    scripts = [name for name in ("window.js", "test_day.js", "instant.js") if name in text]
    assert scripts == []
    for name in ("shell.js", "drafts.js", "paper.js"):
        code = (SOURCE / "web" / "static" / "js" / name).read_text(encoding="utf-8")
        for word in ("pointermove", "touchmove", "touchstart", "dragstart", "gesture", "wheel"):
            assert word not in code, (name, word)
    assert "draggable" not in text
