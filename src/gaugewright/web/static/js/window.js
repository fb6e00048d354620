/* A window of readings, drawn from extremes that the server has ready: lowest and highest of every
   bin, so that no peak is lost. Zooms by drag, by the buttons and from the keyboard. Gaps stay gaps. */
(function () {
  "use strict";

  var INKS = ["a", "b", "c", "d"];
  var DASHES = { a: [], b: [9, 4], c: [2, 4], d: [12, 3, 2, 3] };
  var HEIGHT = 330;
  var place, told, plots = [], asked = 0;

  function ink(name) { return getComputedStyle(document.documentElement).getPropertyValue(name).trim(); }
  function face() { return "14px " + ink("--tool"); }
  function pixels() { return Math.max(120, Math.min(1600, Math.round(place.clientWidth * 0.8))); }

  function address(rest, first, last) {
    var url = new URL(place.dataset.window, location.href);
    url.searchParams.set("first", first);
    url.searchParams.set("last", last);
    url.pathname = new URL(place.dataset.page, location.href).pathname + rest;
    return url;
  }

  function fetchWindow(first, last, remember) {
    var url = address("/data", first, last);
    url.searchParams.set("pixels", pixels());
    asked += 1;
    var mine = asked;
    place.setAttribute("aria-busy", "true");
    return fetch(url, { headers: { "Accept": "application/json" } }).then(function (answer) {
      if (!answer.ok) { throw new Error("The app answered with " + answer.status); }
      return answer.json();
    }).then(function (data) {
      if (mine !== asked) { return; }  /* a later window was asked for meanwhile */
      told = data;
      place.removeAttribute("aria-busy");
      fails("");
      draw();
      if (remember) { history.replaceState(null, "", address("", first, last)); }
    }).catch(function (error) {
      place.removeAttribute("aria-busy");
      fails((error instanceof TypeError ? "No answer from the app" : error.message) + ". The drawing is as it was.");
    });
  }
  function fails(words) {
    var line = place.querySelector("[data-window-fails]");
    line.textContent = words;
    line.hidden = !words;
  }

  /* A pause is a gap of its own: a point without a value goes before the bin that follows it. */
  function withPauses(values) {
    var made = [];
    values.forEach(function (value, at) {
      if (told.pause[at]) { made.push(null); }
      made.push(value);
    });
    return made;
  }
  function times() {
    var made = [];
    told.time.forEach(function (value, at) {
      if (told.pause[at]) { made.push((value + told.time[at - 1]) / 2); }
      made.push(value);
    });
    return made;
  }
  function known(values) {
    /* A bin whose time couldn't be read has no place on the axis. */
    return values.filter(function (_, at) { return allTimes[at] !== null; });
  }
  var allTimes = [];

  function draw() {
    plots.forEach(function (plot) { plot.destroy(); });
    plots = [];
    allTimes = times();
    place.querySelectorAll("[data-panel]").forEach(function (figure, number) {
      var panel = told.panels[number];
      var box = liveIn(figure.querySelector("[data-drawn]"));
      box.setAttribute("aria-label", panel.alt + ". Keys: plus, minus, left, right, Home.");
      plots.push(new uPlot(optionsOf(panel, box), dataOf(panel), box));
    });
    document.querySelectorAll("[data-window-words]").forEach(function (line) { line.textContent = told.words; });
    var list = place.querySelector("[data-window-events]");
    list.replaceChildren.apply(list, told.events.map(function (each) {
      var item = document.createElement("li");
      item.textContent = each.words;
      return item;
    }));
    told.links.forEach(function (link) {
      var button = place.querySelector('[data-key="' + link.key + '"]');
      if (link.is_there) {
        button.setAttribute("href", address("", link.first, link.last));
        button.removeAttribute("aria-disabled");
        button.removeAttribute("role");
      } else {
        button.removeAttribute("href");
        button.setAttribute("aria-disabled", "true");
        button.setAttribute("role", "link");
      }
    });
    /* Other channels are asked for in the window that is seen now. */
    ["first", "last"].forEach(function (name) {
      var field = document.querySelector('.channels input[name="' + name + '"]');
      if (field) { field.value = told[name]; }
    });
    place.querySelectorAll("[data-follows]").forEach(function (link) {
      link.href = address("/" + link.dataset.follows, told.first, told.last);
    });
  }

  /* Stays when it is drawn anew: whoever zooms by key keeps the focus. */
  function liveIn(paper) {
    var box = paper.querySelector(".live");
    if (box) { return box; }
    box = document.createElement("div");
    box.className = "live";
    box.tabIndex = 0;
    box.setAttribute("role", "img");
    paper.className = "paper";
    paper.replaceChildren(box);
    return box;
  }

  function dataOf(panel) {
    var columns = [known(allTimes)];
    panel.traces.forEach(function (trace) {
      columns.push(known(withPauses(trace.high)), known(withPauses(trace.low)));
    });
    return columns;
  }

  function optionsOf(panel, box) {
    var series = [{}];
    var bands = [];
    panel.traces.forEach(function (trace, number) {
      var name = INKS[number % 4];
      var stroke = ink("--data-" + name);
      [trace.label, ""].forEach(function (label) {
        series.push({ label: label, stroke: stroke, width: told.rows_per_bin === 1 ? 1.8 : 1.2, dash: DASHES[name], spanGaps: false, points: { show: alone } });
      });
      bands.push({ series: [series.length - 2, series.length - 1], fill: stroke + "66" });
    });
    var axis = { values: signed, stroke: ink("--ink-faint"), font: "13px " + ink("--tool"), labelFont: face(), grid: { stroke: ink("--grid"), width: 1 }, ticks: { stroke: ink("--ink"), width: 1, size: 5 } };
    return {
      width: Math.max(260, box.clientWidth),
      height: HEIGHT,
      legend: { show: false },
      cursor: { drag: { x: true, y: false, setScale: false }, points: { show: false }, y: false },
      scales: { x: { time: false, range: function (u, low, high) { return [low, high === low ? low + 1 : high]; } } },
      axes: [
        Object.assign({}, axis, { label: "Time since the first row, " + told.time_unit, labelSize: 22, size: 34 }),
        Object.assign({}, axis, { size: 64 })
      ],
      series: series,
      bands: bands,
      padding: [44, labelRoom(), 0, 0],
      hooks: { setSelect: [chosen], drawClear: [drawSpans], draw: [function (u) { drawEvents(u); drawNames(u, panel); }] }
    };
  }
  function alone(u, at) {
    /* A reading between two gaps would be no line at all: a dot keeps it in sight. */
    var values = u.data[at];
    return values.some(function (value, i) { return value !== null && (values[i - 1] ?? null) === null && (values[i + 1] ?? null) === null; });
  }
  function signed(u, values) {
    return values.map(function (value) { return String(value).replace("-", "\u2212"); });
  }
  function labelRoom() {
    /* The same in every panel, so that times stand under each other. */
    var lengths = told.panels.flatMap(function (panel) {
      return panel.traces.map(function (trace) { return trace.label.length; });
    });
    return Math.min(150, 16 + 7.6 * Math.max.apply(null, lengths));
  }

  function drawSpans(u) {
    var context = u.ctx, scale = devicePixelRatio, free = -Infinity;
    context.save();
    context.beginPath();
    context.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
    context.clip();
    told.spans.forEach(function (span) {
      if (span.begins === null || span.ends === null) { return; }
      var left = u.valToPos(span.begins, "x", true);
      var right = Math.max(u.valToPos(span.ends, "x", true), left + 2 * scale);
      context.save();
      context.beginPath();
      context.rect(left, u.bbox.top, right - left, u.bbox.height);
      context.clip();
      context.strokeStyle = ink("--hatch");
      context.lineWidth = scale;
      context.beginPath();
      for (var x = left - u.bbox.height; x < right; x += 9 * scale) {
        context.moveTo(x, u.bbox.top + u.bbox.height);
        context.lineTo(x + u.bbox.height, u.bbox.top);
      }
      context.stroke();
      context.restore();
      var name = span.label + ": " + span.code, room = u.bbox.left + u.bbox.width - left;
      if (left > free && name.length * 7.2 * scale < room) {  /* the list below says all of them */
        words(context, name, left + 5 * scale, u.bbox.top + u.bbox.height - 8 * scale, ink("--ink-soft"));
        free = left + (name.length * 7.2 + 12) * scale;
      }
    });
    context.restore();
  }
  function drawEvents(u) {
    var context = u.ctx, scale = devicePixelRatio, last = -Infinity;
    context.save();
    context.strokeStyle = ink("--ink-soft");
    context.lineWidth = scale;
    context.setLineDash([6 * scale, 4 * scale]);
    told.events.slice().sort(function (a, b) { return a.at - b.at; }).forEach(function (each) {
      var x = u.valToPos(each.at, "x", true);
      if (x < u.bbox.left || x > u.bbox.left + u.bbox.width) { return; }
      context.beginPath();
      context.moveTo(x, u.bbox.top);
      context.lineTo(x, u.bbox.top + u.bbox.height);
      context.stroke();
      if (x > last) {
        words(context, each.kind, x + 2 * scale, u.bbox.top - 6 * scale, ink("--ink-soft"));
        last = x + (each.kind.length * 7 + 10) * scale;
      }
    });
    context.restore();
  }
  function drawNames(u, panel) {
    var context = u.ctx, scale = devicePixelRatio;
    words(context, "Reading as received" + (panel.unit ? ", " + panel.unit : ""), 0, 14 * scale, ink("--ink"));
    var right = u.bbox.left + u.bbox.width, bottom = u.bbox.top + u.bbox.height, step = 17 * scale;
    var beside = [];
    panel.traces.forEach(function (trace, number) {
      var values = u.data[1 + 2 * number], at = values.length - 1;
      while (at > 0 && (values[at] ?? null) === null) { at -= 1; }
      var colour = ink("--data-" + INKS[number % 4]);
      if ((values[at] ?? null) === null) {
        beside.push({ label: trace.label + ": gap", y: bottom, ink: colour });
        return;
      }
      var y = u.valToPos(values[at], "y", true), x = u.valToPos(u.data[0][at], "x", true);
      if (right - x > 24 * scale) {  /* it ends in a gap: its name stands where its line ends */
        words(context, trace.label, x + 5 * scale, y - 8 * scale, colour);
      } else {
        beside.push({ label: trace.label, y: y, ink: colour });
      }
    });
    beside.sort(function (a, b) { return a.y - b.y; });
    var line = -Infinity;
    beside.forEach(function (each) { each.y = line = Math.max(each.y, line + step); });
    var over = beside.length ? Math.max(0, line - bottom) : 0;
    beside.forEach(function (each) { words(context, each.label, right + 8 * scale, each.y - over + 5 * scale, each.ink); });
  }
  function words(context, text, x, y, colour) {
    context.save();
    context.setLineDash([]);
    context.textAlign = "left";
    context.textBaseline = "alphabetic";
    context.font = 14 * devicePixelRatio + "px " + ink("--tool");
    context.lineWidth = 5 * devicePixelRatio;
    context.lineJoin = "round";
    context.strokeStyle = ink("--sheet");
    context.strokeText(text, x, y);
    context.fillStyle = colour;
    context.fillText(text, x, y);
    context.restore();
  }

  function rowAt(time, isEnd) {
    var at = 0;
    while (at < told.time.length - 1 && (told.time[at + 1] === null || told.time[at + 1] <= time)) { at += 1; }
    var row = told.row[at] + (isEnd ? told.rows_per_bin - 1 : 0);
    return Math.max(told.first, Math.min(told.last, row));
  }
  function chosen(u) {
    if (u.select.width < 4) { return; }
    var from = rowAt(u.posToVal(u.select.left, "x"), false);
    var to = rowAt(u.posToVal(u.select.left + u.select.width, "x"), true);
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    if (to > from) { fetchWindow(from, to, true); }
  }
  function go(key) {
    var link = told && told.links.find(function (each) { return each.key === key; });
    if (link && link.is_there) { fetchWindow(link.first, link.last, true); }
    return Boolean(link);
  }

  document.addEventListener("DOMContentLoaded", function () {
    place = document.getElementById("window");
    if (!place || !window.uPlot) { return; }
    place.addEventListener("click", function (click) {
      var button = click.target.closest("[data-key]");
      if (!button || click.ctrlKey || click.metaKey || click.shiftKey) { return; }
      if (told) { click.preventDefault(); go(button.dataset.key); }
    });
    place.addEventListener("keydown", function (press) {
      if (press.ctrlKey || press.altKey || press.metaKey) { return; }
      if (go(press.key === "=" ? "+" : press.key)) { press.preventDefault(); }
    });
    var width = 0;
    new ResizeObserver(function () {
      if (!told || place.clientWidth === width) { return; }
      width = place.clientWidth;
      plots.forEach(function (plot) { plot.setSize({ width: Math.max(260, plot.root.parentNode.clientWidth), height: HEIGHT }); });
    }).observe(place);
    new MutationObserver(function () { if (told) { draw(); } }).observe(document.documentElement, { attributeFilter: ["data-paper"] });
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", function () { if (told) { draw(); } });
    var url = new URL(place.dataset.window, location.href);
    document.fonts.ready.then(function () {
      fetchWindow(url.searchParams.get("first"), url.searchParams.get("last"), false);
    });
  });
}());
