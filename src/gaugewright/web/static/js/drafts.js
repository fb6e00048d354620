/* Forms marked data-kept lose nothing: what is typed is kept on this device as a draft, and what is
   sent waits here, in order, until the laptop says that it has it. Each carries a key that the
   server remembers, so that sending again adds nothing. A form without this script works too. */
(function () {
  "use strict";

  var QUEUE = "gaugewright queue ";
  var DRAFT = "gaugewright draft ";
  var FIRST_WAIT = 1000;
  var LONGEST_WAIT = 30000;
  var ANSWER_WITHIN = 15000;
  var sending = false;
  var timer = 0;
  var wait = FIRST_WAIT;

  /* What the device keeps: each form under a name of its own, in order of time, so that two windows
     never write over each other. */
  function names() {
    return Object.keys(localStorage).filter(function (name) { return name.startsWith(QUEUE); }).sort();
  }
  function read() {
    return names().map(function (name) {
      return Object.assign(JSON.parse(localStorage.getItem(name)), { name: name });
    });
  }
  function add(item) {
    var last = names().pop();
    var before = last ? Number(last.slice(QUEUE.length, QUEUE.length + 15)) : 0;
    /* A clock that was put back doesn't let a later form pass an earlier one. */
    var place = Math.max(Date.now(), before + 1);
    localStorage.setItem(QUEUE + String(place).padStart(15, "0") + " " + item.key, JSON.stringify(item));
  }
  function change(name, how) {
    var kept = localStorage.getItem(name);
    if (kept) { localStorage.setItem(name, JSON.stringify(Object.assign(JSON.parse(kept), how))); }
  }
  function drop(name) { localStorage.removeItem(name); }
  function canKeep() {
    try {
      localStorage.setItem("gaugewright try", "1");
      localStorage.removeItem("gaugewright try");
      return true;
    } catch (refused) { return false; }
  }
  function newKey() {
    /* Not randomUUID: browsers refuse it to a tablet that comes over plain http. */
    var bytes = crypto.getRandomValues(new Uint8Array(16));
    return "device-" + Array.from(bytes, function (b) { return b.toString(16).padStart(2, "0"); }).join("");
  }
  function utc() { return new Date().toISOString().replace(/\.(\d{3})Z$/, ".$1000Z"); }

  /* Drafts */
  function fieldsOf(form) {
    return Array.from(form.elements).filter(function (field) {
      return field.name && field.type !== "hidden" && field.type !== "submit" && field.type !== "file";
    });
  }
  function isTick(field) { return field.type === "checkbox"; }
  function draftName(form) { return DRAFT + form.getAttribute("action") + " " + form.dataset.keptDraft; }
  function keepDraft(form) {
    var values = {};
    fieldsOf(form).forEach(function (field) {
      if (isTick(field) ? field.checked : field.value) { values[field.name] = field.value; }
    });
    if (Object.keys(values).length) {
      localStorage.setItem(draftName(form), JSON.stringify(values));
    } else {
      localStorage.removeItem(draftName(form));
    }
  }
  function bringDraft(form) {
    var kept = localStorage.getItem(draftName(form));
    if (!kept) { return; }
    var values = JSON.parse(kept);
    fieldsOf(form).forEach(function (field) {
      if (!values[field.name]) { return; }
      if (isTick(field)) { field.checked = true; } else if (!field.value) { field.value = values[field.name]; }
    });
    say(form, "A draft, kept on this device only: what was typed here before.");
  }
  function say(form, words, isWrong) {
    var place = form.querySelector("[data-kept-says]");
    if (!place) { return; }
    place.textContent = words;
    place.classList.toggle("wrong", Boolean(isWrong));
    place.classList.toggle("said", !isWrong);
  }

  /* Queue */
  function putUp(form, button) {
    var at = form.querySelector("[data-kept-at]");
    if (at) { at.value = utc(); }
    var data = new FormData(form, button || undefined);
    var key = newKey();
    data.set("key", key);
    add({
      key: key,
      url: form.getAttribute("action"),
      body: new URLSearchParams(data).toString(),
      what: form.dataset.kept + (button && button.value ? ": " + button.value : ""),
      state: "waits",
      sentence: "",
      draft: form.dataset.keptNext && form.dataset.keptDraft ? draftName(form) : ""
    });
    if (form.dataset.keptNext) {
      form.querySelectorAll("button").forEach(function (each) { each.disabled = true; });
    } else {
      localStorage.removeItem(draftName(form));
      fieldsOf(form).forEach(function (field) { if (isTick(field)) { field.checked = false; } else { field.value = ""; } });
    }
    say(form, "On its way to the laptop; kept on this device until it answers.");
  }

  function soon(milliseconds) {
    clearTimeout(timer);
    timer = setTimeout(send, milliseconds);
  }

  function withTime(item) {
    var body = new URLSearchParams(item.body);
    if (body.has("sent")) { body.set("sent", utc()); }
    return body.toString();
  }

  /* Sends the first that waits. Only an answer of the server takes it out of the queue. */
  function send() {
    clearTimeout(timer);
    if (sending) { return; }
    var item = read().find(function (each) { return each.state === "waits"; });
    if (!item) { draw(); return; }
    sending = true;
    var hurry = new AbortController();
    var late = setTimeout(function () { hurry.abort(); }, ANSWER_WITHIN);
    fetch(item.url, {
      method: "POST",
      body: withTime(item),
      headers: { "Accept": "application/json", "Content-Type": "application/x-www-form-urlencoded" },
      redirect: "error",
      signal: hurry.signal
    }).then(function (answer) {
      return answer.text().then(function (text) { return { status: answer.status, told: told(answer, text) }; });
    }).then(function (answer) {
      if (answer.status >= 200 && answer.status < 300) {
        drop(item.name);
        if (item.draft) { localStorage.removeItem(item.draft); }
        sayEverywhere(item.url, answer.told.sentence + ".", answer.told.next);
        document.body.dispatchEvent(new CustomEvent("kept-sent", { bubbles: true }));
      } else if (answer.status > 500 || answer.status === 429 || answer.status === 408) {
        throw new Error("try again later");
      } else if (!answer.told.both && giveBack(item.url, answer.told)) {
        drop(item.name);
      } else {
        change(item.name, {
          state: "set aside", sentence: answer.told.sentence, both: answer.told.both || [], page: answer.told.url || ""
        });
      }
      wait = FIRST_WAIT;
      sending = false;
      draw();
      send();
    }).catch(function () {
      sending = false;
      draw();
      document.body.dispatchEvent(new CustomEvent("kept-unsent", { bubbles: true, detail: item.url }));
      soon(wait);
      wait = Math.min(2 * wait, LONGEST_WAIT);
    }).finally(function () { clearTimeout(late); });
  }

  function told(answer, text) {
    if ((answer.headers.get("content-type") || "").startsWith("application/json")) { return JSON.parse(text); }
    var plain = (answer.headers.get("content-type") || "").startsWith("text/plain");
    return { sentence: plain ? text.trim() : "The app answered with " + answer.status };
  }
  function sayEverywhere(url, words, next) {
    document.querySelectorAll("form[data-kept]").forEach(function (form) {
      if (form.getAttribute("action") !== url) { return; }
      say(form, words);
      if (form.dataset.keptNext) { location.assign(next || form.dataset.keptNext); }
    });
  }

  /* A form that is still open with what was typed: the sentence stands there, nothing is set aside. */
  function giveBack(url, told) {
    var open = Array.from(document.querySelectorAll("form[data-kept-next]")).filter(function (form) {
      return form.getAttribute("action") === url;
    });
    open.forEach(function (form) {
      form.querySelectorAll("button").forEach(function (each) { each.disabled = false; });
      say(form, "It wasn’t taken in: " + told.sentence + ".", true);
      form.dispatchEvent(new CustomEvent("kept-refused", { detail: told }));
    });
    return open.length > 0;
  }

  /* What stands at the head of every page while something is kept here. */
  function element(name, text, className) {
    var made = document.createElement(name);
    if (text) { made.textContent = text; }
    if (className) { made.className = className; }
    return made;
  }
  function button(words, act) {
    var made = element("button", words, "button is-plain");
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }
  function draw() {
    var place = document.getElementById("kept-here");
    if (!place) { return; }
    var queue = read();
    var waits = queue.filter(function (item) { return item.state === "waits"; });
    var aside = queue.filter(function (item) { return item.state !== "waits"; });
    var parts = [];
    if (waits.length) {
      var box = element("div", "", "notice");
      var line = element("p");
      line.append(element("span", "Kept here, not yet at the laptop: " + waits.length + ".", "word"));
      line.append(" It is sent as soon as the laptop answers; you can go on.");
      box.append(line, button("Try now", function () { wait = FIRST_WAIT; send(); }));
      parts.push(box);
    }
    aside.forEach(function (item) { parts.push(setAside(item)); });
    place.replaceChildren.apply(place, parts);
  }
  function setAside(item) {
    var box = element("div", "", "failed");
    box.setAttribute("role", "alert");
    box.append(element("p", item.what + ": the laptop didn’t take it; it is kept here", "word"));
    box.append(element("p", item.sentence + "."));
    if (item.both && item.both.length) {
      var list = element("dl", "", "facts");
      item.both.forEach(function (row) {
        list.append(element("dt", row.name));
        list.append(element("dd", "stands now: " + (row.theirs || "nothing") + "; you typed: " + (row.yours || "nothing")));
      });
      box.append(list);
    }
    var words = new URLSearchParams(item.body).get("words");
    if (words) { box.append(element("p", words, "hand")); }
    var row = element("p", "", "button-row");
    if (item.page) {
      var link = element("a", "Open it");
      link.href = item.page;
      row.append(link);
    }
    if (!item.page) {
      row.append(button("Send it again", function () { change(item.name, { state: "waits" }); wait = FIRST_WAIT; send(); }));
    }
    row.append(button("Let it go", function () {
      if (window.confirm("Let it go? It isn’t at the laptop.")) { drop(item.name); draw(); }
    }));
    box.append(row);
    return box;
  }

  function look() {
    document.querySelectorAll("form[data-kept]").forEach(keep);
    draw();
  }
  function keep(form) {
    if (form.dataset.keptDraft) {
      bringDraft(form);
      form.addEventListener("input", function () { keepDraft(form); });
    }
    form.addEventListener("submit", function (submit) {
      try {
        putUp(form, submit.submitter);
      } catch (full) {
        return;  /* no room left on this device: send it the ordinary way */
      }
      submit.preventDefault();
      wait = FIRST_WAIT;
      draw();
      send();
    });
  }

  document.addEventListener("DOMContentLoaded", function () {
    if (!canKeep()) { return; }  /* storage refused: forms are sent the ordinary way */
    look();
    document.body.addEventListener("kept-look", look);  /* another page was put in the place of this one */
    window.addEventListener("online", function () { wait = FIRST_WAIT; send(); });
    window.addEventListener("storage", draw);
    document.addEventListener("visibilitychange", function () {
      if (!document.hidden) { wait = FIRST_WAIT; send(); }
    });
    draw();
    send();
  });
}());
