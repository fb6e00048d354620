/* What holds on every page: no request for a part fails in silence. */
(function () {
  "use strict";

  function tell(headline, sentence) {
    var place = document.getElementById("notices");
    if (!place) { return; }
    var box = document.createElement("div");
    box.className = "failed";
    box.setAttribute("role", "alert");
    var word = document.createElement("p");
    word.className = "word";
    word.textContent = headline;
    var said = document.createElement("p");
    said.textContent = sentence;
    box.append(word, said);
    place.replaceChildren(box);
  }

  /* Words that are true only while scripts run. */
  function show(part) {
    part.querySelectorAll("[data-with-script]").forEach(function (words) { words.hidden = false; });
  }
  document.addEventListener("DOMContentLoaded", function () { show(document); });
  document.addEventListener("kept-look", function () { show(document); });

  /* Whoever stood in a part that was put anew stands in the nearest that is still there. */
  var around = [];
  document.addEventListener("focusin", function (focus) {
    around = [];
    for (var each = focus.target; each; each = each.parentElement) { if (each.id) { around.push(each.id); } }
  });
  document.addEventListener("htmx:after:swap", function () {
    show(document);
    var on = document.activeElement;
    if (on && on !== document.body) { return; }
    var place = around.map(function (id) { return document.getElementById(id); }).find(Boolean);
    if (!place || place.id === "sheet") { return; }
    if (!place.matches("a[href], button, input, select, textarea, summary")) { place.tabIndex = -1; }
    place.focus({ preventScroll: true });
  });

  /* A page that is worked out from the plan may take some seconds: say so, instead of nothing. */
  var slow = /\/plan\/(questions|prediction|electrical|selection|supplies)$/;
  document.addEventListener("click", function (click) {
    var link = click.target.closest("a[href]");
    if (!link || click.button || click.metaKey || click.ctrlKey || click.shiftKey || click.defaultPrevented) { return; }
    if (!slow.test(link.pathname) || link.search.includes("numbers=") || link.getAttribute("href").startsWith("#")) { return; }
    setTimeout(function () {
      var place = document.getElementById("notices");
      if (!place) { return; }
      var box = document.createElement("div");
      box.className = "notice";
      box.setAttribute("role", "status");
      box.textContent = link.textContent.trim() + " is being worked out: some seconds the first time.";
      place.replaceChildren(box);
      place.scrollIntoView({ block: "nearest" });
    }, 400);
  });
  window.addEventListener("pageshow", function (shown) {
    var place = document.getElementById("notices");
    if (shown.persisted && place) { place.replaceChildren(); }
  });

  /* The network or the app is gone: nothing came back. */
  document.addEventListener("htmx:error", function () {
    tell("No answer from the app", "It may have been stopped, or this device is off its network. " +
      "What you see is as it was; nothing you sent just now was kept.");
  });
  document.addEventListener("htmx:after:swap", function () {
    var place = document.getElementById("notices");
    if (place && place.querySelector(".failed") && navigator.onLine) { place.replaceChildren(); }
  });
}());
