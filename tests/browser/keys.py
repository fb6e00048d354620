"""Work from the keyboard alone: go by Tab, type, and see at each stop that the focus is seen."""

from collections.abc import Mapping

from playwright.sync_api import Page, expect

__all__ = ["Keys", "missing_without_scripts", "unseen_focus"]

_HERE = """() => {
  const on = document.activeElement;
  const label = on.labels && on.labels[0] ? on.labels[0].innerText : '';
  const words = on.getAttribute('aria-label') || label || on.innerText || on.value || '';
  return {tag: on.tagName, name: on.name || '', words: words.trim().replace(/\\s+/g, ' ')};
}"""

# Every stop of the Tab key in turn: a ring of 2 px and 3:1 that isn't cut off whole (WCAG 2.2,
# 2.4.7 and 1.4.11), and nothing of ours that lies over what has it (2.4.11).
_RINGS = """() => {
  const part = c => { c /= 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
  const numbers = colour => colour.match(/[\\d.]+/g).map(Number);
  const light = colour => {
    const [r, g, b] = numbers(colour).map(part);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (one, two) => {
    const [high, low] = [light(one), light(two)].sort((a, b) => b - a);
    return (high + 0.05) / (low + 0.05);
  };
  const ground = from => {
    for (let each = from; each; each = each.parentElement) {
      const colour = getComputedStyle(each).backgroundColor, alpha = numbers(colour)[3];
      if (alpha === undefined || alpha > 0.5) { return colour; }
    }
    return 'rgb(255, 255, 255)';
  };
  const all = 'a[href], button, input, select, textarea, summary, [tabindex="0"]';
  const found = new Set();
  for (const stop of document.querySelectorAll(all)) {
    stop.focus();
    if (document.activeElement !== stop || stop.tabIndex < 0) { continue; }
    const name = `${stop.tagName} ${(stop.innerText || stop.name || '').trim().slice(0, 30)}`;
    if (stop.closest('svg') && stop.querySelector('.plan-tap')) {  /* its own line is the ring */
      const line = getComputedStyle(stop.querySelector('.plan-tap'));
      if (parseFloat(line.strokeWidth) < 2) { found.add(`no ring on ${name}`); }
      continue;
    }
    let ringed = stop;
    const drawn = it => {
      const style = getComputedStyle(it);
      return style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
    };
    for (let up = 0; up < 4 && ringed && !drawn(ringed); up += 1) { ringed = ringed.parentElement; }
    if (!ringed || !drawn(ringed)) { found.add(`no ring on ${name}`); continue; }
    const style = getComputedStyle(ringed), offset = parseFloat(style.outlineOffset);
    const behind = ground(offset < 0 ? ringed : ringed.parentElement);
    if (contrast(style.outlineColor, behind) < 3) { found.add(`a faint ring on ${name}`); }
    const box = ringed.getBoundingClientRect();
    for (let each = ringed.parentElement; each; each = each.parentElement) {
      if (offset < 0 || getComputedStyle(each).overflowX === 'visible') { continue; }
      const hole = each.getBoundingClientRect();
      if (box.left - offset <= hole.left && box.right + offset >= hole.right
          && box.top - offset <= hole.top && box.bottom + offset >= hole.bottom) {
        found.add(`a ring cut off on ${name}`);
      }
    }
    const at = stop.getBoundingClientRect();
    const x = at.left + at.width / 2, y = at.top + at.height / 2;
    const over = document.elementFromPoint(x, y);
    const bar = over && over.closest('.at-hand, .tap-bar, .step-end');
    if (bar && !bar.contains(stop)) { found.add(`${name} lies below ${bar.className}`); }
  }
  document.activeElement.blur();
  window.scrollTo(0, 0);
  return [...found];
}"""

# The page as a browser without scripts has it: what stands in noscript is there for a parser.
_DEAD = """text => {
  const page = new DOMParser().parseFromString(text, 'text/html');
  const words = it => (it.getAttribute('aria-label') || it.textContent).trim().slice(0, 40);
  const shown = it => !it.closest('[hidden]');
  const found = [];
  if (page.querySelectorAll('h1').length !== 1) { found.push('not one h1'); }
  for (const button of page.querySelectorAll('button')) {
    if (!shown(button) || button.disabled) { continue; }
    const sends = button.type === 'submit' && (button.form || button.closest('form'));
    if (!sends) { found.push(`a dead button: ${words(button)}`); }
  }
  for (const form of page.querySelectorAll('form')) {
    const sends = [...form.querySelectorAll('button, input')].some(it => it.type === 'submit');
    if (!sends) { found.push(`nothing sends the form to ${form.getAttribute('action')}`); }
  }
  for (const link of page.querySelectorAll('a:not([href])')) {
    const off = link.getAttribute('aria-disabled') === 'true';
    if (!off) { found.push(`a dead link: ${words(link)}`); }
  }
  for (const part of page.querySelectorAll('[hx-get][hx-trigger="load"]')) {
    if (!part.querySelector('a[href]')) { found.push(`a hole: ${words(part)}`); }
  }
  return found;
}"""


def unseen_focus(page: Page) -> list[str]:
    """Stops of the Tab key at which the focus isn't seen as it should be."""
    page.keyboard.press("Tab")  # else a browser draws no ring for what a script chooses
    found: list[str] = page.evaluate(_RINGS)
    return found


def missing_without_scripts(page: Page, served: str) -> list[str]:
    """What a page, as it was served, lacks or has dead where no script runs."""
    found: list[str] = page.evaluate(_DEAD, served)
    return found


class Keys:
    """A person at the keyboard of a page, who has no mouse."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.presses = 0

    def press(self, key: str) -> None:
        self.page.keyboard.press(key)
        self.presses += 1

    @property
    def here(self) -> dict[str, str]:
        """What has the focus: its tag, its name as a field, its words."""
        found: dict[str, str] = self.page.evaluate(_HERE)
        return found

    def open(self, url: str) -> None:
        """Open a page and go past its frame, as its first link offers."""
        self.page.goto(url)
        self.press("Tab")
        assert self.here["tag"] == "A"
        self.press("Enter")
        expect(self.page.locator("#sheet")).to_be_focused()

    def to(self, words: str = "", *, field: str = "", within: int = 90) -> int:
        """Press Tab until something so called has the focus; how often it took."""
        for count in range(1, within + 1):
            self.press("Tab")
            here = self.here
            if (field and here["name"] == field) or (words and words in here["words"]):
                return count
        raise AssertionError(f"{words or field} isn't reached within {within} presses of Tab")

    def write(self, field: str, text: str) -> None:
        """Go to a field and type in it, or step through its choices until the one is there."""
        self.to(field=field)
        self.change(text)

    def change(self, text: str) -> None:
        """Give what has the focus another content."""
        chosen = self.page.locator(":focus")
        if chosen.evaluate("it => it.tagName") != "SELECT":
            self.press("Control+a")
            self.page.keyboard.type(text)
            return
        self.press("Home")
        for _ in range(60):
            expect(self.page.locator(".htmx-request, .htmx-swapping")).to_have_count(0)
            if text in (chosen.input_value(), chosen.evaluate("it => it.selectedOptions[0].text")):
                return
            self.press("ArrowDown")
        raise AssertionError(f"no choice {text}")

    def fill(self, texts: Mapping[str, str]) -> None:
        """Go through a form once, in its order; what it stands filled with already stays."""
        left = dict(texts)
        for _ in range(120):
            if not left:
                return
            self.press("Tab")
            name = self.here["name"]
            if name in left:
                self.change(left.pop(name))
        raise AssertionError(f"these fields aren't reached in order: {sorted(left)}")

    def send(self, words: str) -> None:
        """Go to a button and press it; the answer is a page."""
        self.to(words)
        with self.page.expect_navigation():
            self.press("Enter")
