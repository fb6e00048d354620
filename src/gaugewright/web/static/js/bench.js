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

  /* What is asked back is answered for the button that was pressed first: begun, or done. */
  form.addEventListener("submit", function (submit) {
    var pressed = submit.submitter;
    if (pressed && pressed.name === "phase") { form.querySelector("[data-phase]").value = pressed.value; }
  });

  /* Enter goes on to the next box, and from the last one to Done, which it then presses. */
  form.addEventListener("keydown", function (key) {
    var field = key.target;
    if (key.key !== "Enter" || key.isComposing || field.tagName !== "INPUT" || field.type !== "text") { return; }
    key.preventDefault();
    var boxes = Array.from(form.querySelectorAll("input[type='text'], input:not([type]), textarea, select"));
    var shown = boxes.filter(function (each) { return each.offsetParent !== null; });
    var after = shown[shown.indexOf(field) + 1] || form.querySelector(".bench-go .is-next");
    after.focus();
  });

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

  /* What is wrong stands at the top with its gauge and field, and beside its box, which is taken. */
  var top = form.querySelector("[data-refused]");
  function boxOf(key) { return key ? form.elements.namedItem(key) : null; }
  function clear() {
    form.querySelectorAll("[data-told]").forEach(function (each) { each.remove(); });
    form.querySelectorAll("[aria-invalid]").forEach(function (each) { each.removeAttribute("aria-invalid"); });
    top.hidden = true;
  }
  function mark(one) {
    var field = boxOf(one.key);
    if (!field) { return null; }
    var words = document.createElement("p");
    words.className = "wrong";
    words.dataset.told = "";
    words.textContent = one.sentence;
    field.setAttribute("aria-invalid", "true");
    field.closest(".reading, .field").append(words);
    return field;
  }
  function take(field) {
    var folded = field.closest("details");
    if (folded) { folded.open = true; }
    field.focus();
    field.scrollIntoView({ block: "center" });
  }
  function refuse(told) {
    var list = top.querySelector("[data-refused-list]");
    list.replaceChildren();
    var first = null;
    told.forEach(function (one) {
      var field = mark(one), line = document.createElement("li");
      if (field) {
        var link = document.createElement("a");
        link.href = "#" + field.id;
        link.textContent = one.sentence;
        link.addEventListener("click", function (click) { click.preventDefault(); take(field); });
        line.append(link);
      } else {
        line.textContent = one.sentence;
      }
      list.append(line);
      first = first || field;
    });
    top.hidden = false;
    if (told.length > 1) {
      form.querySelector("[data-kept-says]").textContent = "Not taken in: " + told.length + " things to mend, told at the top.";
    }
    if (first) { take(first); } else { top.focus(); }
  }

  /* What is asked back stands above the button: take what was probably meant, or keep it as typed. */
  form.addEventListener("kept-refused", function (refused) {
    var box = form.querySelector("[data-asked]"), told = refused.detail;
    clear();
    box.hidden = told.asked === undefined;
    if (told.asked === undefined) {
      refuse(told.at || [{ key: "", sentence: told.sentence + "." }]);
      return;
    }
    (told.asked_at || []).forEach(mark);
    box.querySelector("[data-asked-words]").textContent = told.asked;
    box.querySelector("[data-asked-use]").hidden = !told.asked;
    box.querySelector("[data-asked-keep]").textContent = told.confirm || "It is as typed";
    box.querySelector("button:not([hidden])").focus();
  });

  /* A recorder's file goes into the box, so that it is seen, and kept on the device as what is typed. */
  var file = form.querySelector("[data-into]");
  if (file) {
    file.removeAttribute("name");
    file.addEventListener("change", function () {
      if (!file.files.length) { return; }
      file.files[0].arrayBuffer().then(function (bytes) {
        var text;
        try {
          text = new TextDecoder("utf-8", { fatal: true }).decode(bytes);
        } catch (other) {
          text = new TextDecoder("windows-1252").decode(bytes);
        }
        var field = document.getElementById(file.dataset.into);
        field.value = text;
        field.dispatchEvent(new Event("input", { bubbles: true }));
        file.value = "";
        field.focus();
      });
    });
  }
}());
