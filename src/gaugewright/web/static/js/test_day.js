/* Asks for the changing part of test day every second. Without it the page loads itself again. */
(function () {
  "use strict";

  var EVERY = 1000;
  var PATIENCE = 8000;
  var place = document.querySelector("[data-follow]");
  if (!place) { return; }
  var says = document.querySelector("[data-follow-says]");
  var fails = document.querySelector("[data-follow-fails]");
  var failsAt = document.querySelector("[data-follow-at]");
  var hold = document.querySelector("[data-follow-hold]");
  var last = "";

  function root() { return place.querySelector(".live-test") || { dataset: {} }; }

  function show(text) {
    var made = document.createElement("template");
    made.innerHTML = text;
    var fresh = made.content.querySelector(".live-test");
    if (!fresh) { return true; }
    var list = place.querySelector(".live-notices");
    var down = list ? list.scrollTop : 0;
    /* A link that has the focus keeps it: its place is taken by the one that leads to the same. */
    var held = place.contains(document.activeElement) ? document.activeElement.getAttribute("href") : null;
    place.replaceChildren(made.content);
    list = place.querySelector(".live-notices");
    if (list) { list.scrollTop = down; }
    if (held) {
      var again = Array.from(place.querySelectorAll("a")).find(function (link) { return link.getAttribute("href") === held; });
      if (again) { again.focus({ preventScroll: true }); }
    }
    if (hold) { hold.textContent = fresh.dataset.hold; }
    if (fresh.dataset.says !== last) {
      last = fresh.dataset.says;
      says.textContent = last;
    }
    return !fresh.hasAttribute("data-ended");
  }

  function later() { window.setTimeout(ask, EVERY); }

  function ask() {
    if (document.hidden) { later(); return; }
    var stop = new AbortController();
    var timer = window.setTimeout(function () { stop.abort(); }, PATIENCE);
    var seen = root().dataset.seen || "";
    fetch(place.dataset.follow + "?seen=" + encodeURIComponent(seen), { headers: { "HX-Request": "true" }, signal: stop.signal }).then(function (answer) {
      if (!answer.ok) { throw new Error("The app answered with " + answer.status); }
      return answer.status === 204 ? null : answer.text();
    }).then(function (text) {
      fails.hidden = true;
      if (text === null || show(text)) { later(); } else { location.reload(); }
    }).catch(function () {
      failsAt.textContent = root().dataset.at || "an unknown time";
      fails.hidden = false;
      later();
    }).finally(function () { window.clearTimeout(timer); });
  }

  last = root().dataset.says || "";
  later();
})();
