/* The bench: clocks that run by the server's time, the steel that is gone as it is typed, and what
   the laptop asks back. Without this script the page shows the clocks as they were when it came. */
(function () {
  "use strict";

  /* The device's own clock may be wrong: only the time that passed on it is used. */
  var told = document.querySelector("[data-now]");
  var ahead = told ? Date.now() - Date.parse(told.dataset.now) : 0;

  function duration(seconds) {
    var whole = Math.round(Math.abs(seconds));
    var hours = Math.floor(whole / 3600), minutes = Math.floor(whole % 3600 / 60), rest = whole % 60;
    if (hours) { return minutes ? hours + " h " + minutes + " min" : hours + " h"; }
    if (minutes) { return rest ? minutes + " min " + rest + " s" : minutes + " min"; }
    return rest + " s";
  }
  function words(kind, left) {
    if (kind === "at least") { return left <= 0 ? "ready" : duration(left) + " to wait"; }
    return left > 0 ? duration(left) + " left" : "ran out " + duration(left) + " ago";
  }
  function tick() {
    document.querySelectorAll("[data-until]").forEach(function (clock) {
      var left = (Date.parse(clock.dataset.until) - (Date.now() - ahead)) / 1000;
      clock.querySelector("[data-clock-words]").textContent = words(clock.dataset.kind, left);
      clock.classList.toggle("is-over", left <= 0);
    });
  }
  if (document.querySelector("[data-until]")) {
    tick();
    setInterval(tick, 1000);
    document.addEventListener("visibilitychange", tick);
  }

  var form = document.querySelector("form[data-bench]");
  if (!form) { return; }

  /* Steel gone, as soon as there is enough to tell it. */
  var says = form.querySelector("[data-loss-says]");
  var soon = 0, asked = 0;
  function ask() {
    var mine = asked += 1;
    var query = new URLSearchParams(new FormData(form)).toString();
    fetch(form.dataset.loss + "?" + query).then(function (answer) {
      return answer.text();
    }).then(function (text) {
      if (mine === asked) { says.textContent = text; }
    }).catch(function () {
      if (mine === asked) { says.textContent = "Steel lost is told when the laptop answers again."; }
    });
  }
  if (says) {
    form.addEventListener("input", function () { clearTimeout(soon); soon = setTimeout(ask, 300); });
    document.addEventListener("DOMContentLoaded", ask);
  }

  /* What is asked back stands above the button: take what was probably meant, or keep it as typed. */
  form.addEventListener("kept-refused", function (refused) {
    var box = form.querySelector("[data-asked]");
    if (refused.detail.asked === undefined) { return; }
    box.hidden = false;
    box.querySelector("[data-asked-words]").textContent = refused.detail.asked;
    box.querySelector("[data-asked-use]").hidden = !refused.detail.asked;
    box.querySelector("button:not([hidden])").focus();
  });
}());
