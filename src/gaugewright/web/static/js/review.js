/* Review by keyboard: j and k or the arrows move between findings, a, e and r choose, and the
   reason has the cursor then; Enter sends the form. Whoever speaks to the machine, or hits keys
   unmeant, switches single keys off. Everything can be done without this script. */
(function () {
  "use strict";

  document.addEventListener("DOMContentLoaded", function () {
    var desk = document.querySelector("[data-review]");
    if (!desk) { return; }
    var told = desk.querySelector("[data-review-keys]");
    var button = desk.querySelector("[data-keys-switch]");
    var off = false;
    try { off = localStorage.getItem("review keys") === "off"; } catch (refused) { /* not kept: on */ }
    function say() {
      desk.querySelector("[data-keys-words]").hidden = off;
      button.textContent = off ? "Keys on" : "Keys off";
    }
    say();
    told.hidden = false;
    button.addEventListener("click", function () {
      off = !off;
      try { localStorage.setItem("review keys", off ? "off" : "on"); } catch (refused) { /* not kept */ }
      say();
    });

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
      if (off) { return; }
      if (press.key === "Escape" && on.name === "reason") { on.blur(); return; }
      if (name === "TEXTAREA" || name === "SELECT" || (name === "INPUT" && on.type !== "radio")) { return; }
      var isArrow = press.key === "ArrowDown" || press.key === "ArrowUp";
      if (isArrow && name === "INPUT") { return; }  /* arrows move between the choices themselves */
      if (on.closest("[tabindex='0']") && press.key.startsWith("Arrow")) { return; }  /* and scroll what scrolls */
      if (press.key === "j" || press.key === "ArrowRight") { go(desk.dataset.next); }
      else if (press.key === "k" || press.key === "ArrowLeft") { go(desk.dataset.previous); }
      else if (press.key === "a" || press.key === "e" || press.key === "r") { choose(press.key); }
      else { return; }
      press.preventDefault();
    });
  });
}());
