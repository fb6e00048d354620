/* Day or night paper: runs before the page is drawn, so that nothing flashes. */
(function () {
  "use strict";
  var root = document.documentElement;
  try {
    var kept = localStorage.getItem("paper");
    if (kept === "day" || kept === "night") { root.dataset.paper = kept; }
  } catch (refused) { /* storage refused: follow the system */ }

  function isNight() {
    if (root.dataset.paper) { return root.dataset.paper === "night"; }
    return window.matchMedia("(prefers-color-scheme: dark)").matches;
  }

  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("[data-paper-switch]").forEach(function (button) {
      function say() { button.textContent = isNight() ? "Light page" : "Dark page"; }
      button.hidden = false;
      say();
      button.addEventListener("click", function () {
        root.dataset.paper = isNight() ? "day" : "night";
        try { localStorage.setItem("paper", root.dataset.paper); } catch (refused) { /* not kept */ }
        say();
      });
    });
  });
}());
