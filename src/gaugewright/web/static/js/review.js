/* Review by keyboard: j and k or the arrows move between findings, a, e and r choose, and the
   reason has the cursor then; Enter sends the form. Everything can be done without this script. */
(function () {
  "use strict";

  document.addEventListener("DOMContentLoaded", function () {
    var desk = document.querySelector("[data-review]");
    if (!desk) { return; }
    var told = desk.querySelector("[data-review-keys]");
    if (told) { told.hidden = false; }

    function go(address) { if (address) { location.assign(address); } }

    function choose(key) {
      var choice = desk.querySelector('input[data-key="' + key + '"]');
      if (!choice || choice.disabled) { return; }
      choice.checked = true;
      desk.querySelector('[name="reason"]').focus();
    }

    document.addEventListener("keydown", function (press) {
      if (press.ctrlKey || press.altKey || press.metaKey || press.defaultPrevented) { return; }
      var on = press.target;
      var name = on.tagName;
      if (press.key === "Escape" && on.name === "reason") { on.blur(); return; }
      if (name === "TEXTAREA" || name === "SELECT" || (name === "INPUT" && on.type !== "radio")) { return; }
      var isArrow = press.key === "ArrowDown" || press.key === "ArrowUp";
      if (isArrow && name === "INPUT") { return; }  /* arrows move between the choices themselves */
      if (press.key === "j" || press.key === "ArrowRight") { go(desk.dataset.next); }
      else if (press.key === "k" || press.key === "ArrowLeft") { go(desk.dataset.previous); }
      else if (press.key === "a" || press.key === "e" || press.key === "r") { choose(press.key); }
      else { return; }
      press.preventDefault();
    });
  });
}());
