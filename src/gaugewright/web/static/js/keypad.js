/* The bench page of a gate: keys for gloves, the point set as last time, the next box by itself, and
   the next gauges kept in this window, so that work goes on while the network is gone. */
(function () {
  "use strict";

  var KEPT = "gaugewright page ";
  var form, boxes, pad;
  var silent = false; // the laptop didn't answer last time

  function input(box) { return box.querySelector("input"); }
  function taken() { return boxes.find(function (box) { return box.classList.contains("is-taken"); }) || boxes[0]; }
  function take(box) {
    boxes.forEach(function (each) { each.classList.toggle("is-taken", each === box); });
    var key = pad.querySelector("[data-key='special']");
    key.textContent = box.dataset.special;
    var last = boxes.indexOf(box) === boxes.length - 1;
    pad.querySelector("[data-key='next']").textContent = last ? "record" : "next";
  }
  function go(box) {
    take(box);
    /* A tablet's own keyboard would cover the keys: the box is taken without it, but never apart
       from the box that somebody types into. */
    var isTyping = boxes.some(function (each) { return input(each) === document.activeElement; });
    if (isTyping || window.matchMedia("(pointer: fine)").matches) { input(box).focus(); input(box).select(); }
  }
  function next(box) {
    var after = boxes.slice(boxes.indexOf(box) + 1).find(function (each) { return !input(each).value; });
    if (after) { go(after); } else if (form.reportValidity()) {
      /* Asked to, a form is sent again however its button stands: twice pressed isn't read twice. */
      var record = form.querySelector(".bench-go [type='submit']");
      if (!record.disabled) { form.requestSubmit(record); }
    }
  }
  function told(box) { input(box).dispatchEvent(new Event("input", { bubbles: true })); }

  /* As many digits as last time, and no point among them: the point goes where it was. */
  function pointed(box, grew) {
    var like = box.dataset.like, field = input(box), value = field.value;
    var at = like.indexOf(".");
    if (!grew || !like) { return false; }
    if (at > 0 && /^\d+$/.test(value) && value.length === like.length - 1) {
      field.value = value.slice(0, at) + "." + value.slice(at);
      return true;
    }
    var point = value.indexOf(".");
    return at > 0 && /^\d+\.\d+$/.test(value) && value.length - point === like.length - at;
  }
  function typed(box, value) {
    var field = input(box), before = field.value;
    field.value = value;
    var full = pointed(box, value.length === before.length + 1);
    told(box);
    if (full && boxes.indexOf(box) < boxes.length - 1) { next(box); }
  }
  function press(name) {
    var box = taken(), value = input(box).value;
    if (name === "next") { next(box); return; }
    if (name === "clear") { typed(box, ""); return; }
    if (name === "back") { input(box).value = value.slice(0, -1); told(box); return; }
    if (name === "special") {
      var word = box.dataset.special;
      if (word === "\u2212") { typed(box, value.charAt(0) === "\u2212" ? value.slice(1) : word + value); return; }
      input(box).value = word;
      told(box);
      if (boxes.indexOf(box) < boxes.length - 1) { next(box); }
      return;
    }
    typed(box, value + name);
  }

  /* The pages of the gauges to come, one after the other, while the laptop answers. */
  function keepNext(url, left) {
    if (!url || left <= 0) { return; }
    fetch(url, { headers: { "Accept": "text/html" } }).then(function (answer) {
      return answer.ok ? answer.text() : "";
    }).then(function (text) {
      if (!text) { return; }
      try { sessionStorage.setItem(KEPT + url, text); } catch (full) { return; }
      var page = new DOMParser().parseFromString(text, "text/html");
      var after = page.querySelector("form.measure");
      var known = after && after.dataset.keptNext;
      if (known && !sessionStorage.getItem(KEPT + known)) { keepNext(known, left - 1); }
    }).catch(function () { /* gone again: what is kept is kept */ });
  }
  /* Without the network, or the laptop, the kept page stands in; what was typed waits meanwhile. */
  function goOn() {
    var url = form.dataset.keptNext;
    var text = sessionStorage.getItem(KEPT + url);
    if (!text) { return; }
    var page = new DOMParser().parseFromString(text, "text/html");
    var terms = Array.from(form.querySelectorAll("[name='measured'], [name='temperature'], [name^='meter_']"));
    var typed = terms.map(function (each) { return [each.name, each.value]; });
    var dated = form.querySelector("[name='measured']").value;
    history.pushState(null, "", url);
    document.title = page.title;
    document.querySelector(".desk").replaceWith(page.querySelector(".desk"));
    document.body.dispatchEvent(new CustomEvent("kept-look"));
    begin();
    typed.forEach(function (each) {
      var same = form.querySelector("[name='" + each[0] + "']");
      if (same) { same.value = each[1]; }
    });
    if (dated) { form.querySelector("details.bench-terms").open = true; }
  }

  function begin() {
    form = document.querySelector("form.measure");
    if (!form) { return; }
    boxes = Array.from(form.querySelectorAll("[data-reading]"));
    pad = form.querySelector("[data-keypad]");
    if (!boxes.length) { return; }
    pad.hidden = false;
    document.querySelector("[data-keypad-says]").hidden = false;
    form.classList.add("has-keypad");
    boxes.forEach(function (box) {
      var field = input(box);
      if (!window.matchMedia("(pointer: fine)").matches) { field.inputMode = "none"; }
      var before = field.value;
      field.addEventListener("focus", function () { take(box); });
      field.addEventListener("input", function (typing) {
        if (!typing.isTrusted) { before = field.value; return; }
        var grew = field.value.length === before.length + 1;
        var full = pointed(box, grew);
        before = field.value;
        if (full && boxes.indexOf(box) < boxes.length - 1) { next(box); }
      });
      field.addEventListener("keydown", function (key) {
        if (key.key === "Enter") { key.preventDefault(); next(box); }
      });
    });
    pad.addEventListener("click", function (click) {
      var key = click.target.closest("[data-key]");
      if (key) { press(key.dataset.key); }
    });
    form.addEventListener("input", function () { show(""); });
    form.addEventListener("kept-refused", function (refused) {
      var asks = "asked" in refused.detail;
      show(refused.detail.asked, asks);
      /* The button that had the focus was off meanwhile. */
      var told = form.querySelector("[data-kept-says]");
      (asks ? form.querySelector("[data-asked] button:not([hidden])") : told).focus({ preventScroll: true });
      told.scrollIntoView({ block: "nearest" });
    });
    form.addEventListener("submit", function () {
      if (!navigator.onLine || silent) { setTimeout(goOn, 0); }
    });
    go(boxes.find(function (box) { return !input(box).value; }) || boxes[0]);
    if (navigator.onLine) { keepNext(form.dataset.keptNext, boxes.length ? 60 : 0); }
  }
  /* What was probably meant, as a button beside "It is as typed". */
  function show(probable, asks) {
    var place = form.querySelector("[data-asked]");
    place.hidden = !asks;
    place.querySelector("[data-asked-words]").textContent = probable || "";
    place.querySelector("[data-asked-use]").hidden = !probable;
  }

  document.addEventListener("DOMContentLoaded", begin);
  /* Sent in vain while this gauge stands here with its buttons off: on to the next one. */
  document.addEventListener("kept-sent", function () { silent = false; });
  document.addEventListener("kept-unsent", function (unsent) {
    silent = true;
    if (form && form.getAttribute("action") === unsent.detail && form.querySelector("button:disabled")) { goOn(); }
  });
}());
