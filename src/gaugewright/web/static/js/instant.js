/* One instant in every drawing at once: the handle moves marks that the page already drew. The
   words and places of all samples come in one answer, so that moving asks for nothing more. */
(function () {
  "use strict";

  var form = document.querySelector("[data-instant]");
  if (!form) { return; }
  var handle = form.querySelector('input[name="at"]');
  var told = null;

  function along(edges, pixels, value) {
    return pixels[0] + (value - edges[0]) / (edges[1] - edges[0]) * (pixels[1] - pixels[0]);
  }
  function within(pixels, value) {
    return value >= Math.min(pixels[0], pixels[1]) - 0.5 && value <= Math.max(pixels[0], pixels[1]) + 0.5;
  }
  function move(mark, frame, x, y) {
    var px = x === null ? -100 : along(frame.x, frame.across, x);
    var py = y === null ? -100 : along(frame.y, frame.down, y);
    var inside = within(frame.across, px) && within(frame.down, py);
    var line = mark.querySelector("line"), dot = mark.querySelector("circle");
    line.setAttribute("x1", inside ? px : -100);
    line.setAttribute("x2", inside ? px : -100);
    dot.setAttribute("cx", inside ? px : -100);
    dot.setAttribute("cy", inside ? py : -100);
  }
  function show(at) {
    document.querySelectorAll("[data-plot]").forEach(function (figure) {
      var places = told.places[figure.dataset.plot], frames = told.frames[figure.dataset.plot];
      [["only-wide", "wide"], ["only-narrow", "narrow"]].forEach(function (pair) {
        move(figure.querySelector("." + pair[0] + " [data-at]"), frames[pair[1]], places[0][at], places[1][at]);
      });
    });
    Object.keys(told.words).forEach(function (key) {
      form.querySelector('[data-words="' + key + '"]').textContent = told.words[key][at];
    });
    handle.setAttribute("aria-valuetext", told.words.time[at] + ", " + told.words.load[at] + ", " + told.words.strain[at]);
  }
  function remember() {
    var url = new URL(location.href);
    url.searchParams.set("at", handle.value);
    history.replaceState(null, "", url);
  }

  /* A touch in a drawing goes to the sample nearest to it there. */
  function touched(event) {
    var figure = event.currentTarget.closest("[data-plot]"), svg = event.currentTarget;
    var kind = svg.closest(".only-narrow") ? "narrow" : "wide";
    var frame = told.frames[figure.dataset.plot][kind], places = told.places[figure.dataset.plot];
    var box = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / box.width;
    var px = (event.clientX - box.left) * scale, py = (event.clientY - box.top) * scale;
    if (!within(frame.across, px) || !within(frame.down, py)) { return; }
    var best = null, least = Infinity;
    places[0].forEach(function (x, at) {
      var y = places[1][at];
      if (x === null || y === null) { return; }
      var dx = along(frame.x, frame.across, x) - px, dy = along(frame.y, frame.down, y) - py;
      if (figure.dataset.plot === "time") { dy = 0; }
      if (dx * dx + dy * dy < least) { least = dx * dx + dy * dy; best = at; }
    });
    if (best !== null) { handle.value = best; show(best); remember(); }
  }

  fetch(form.dataset.instant, { headers: { "Accept": "application/json" } }).then(function (answer) {
    if (!answer.ok) { throw new Error("The app answered with " + answer.status); }
    return answer.json();
  }).then(function (data) {
    told = data;
    form.querySelector("[data-without-script]").hidden = true;
    form.addEventListener("submit", function (event) { event.preventDefault(); });
    handle.addEventListener("input", function () { show(Number(handle.value)); });
    handle.addEventListener("change", remember);
    document.querySelectorAll("[data-plot] svg").forEach(function (svg) {
      svg.addEventListener("click", touched);
    });
    show(Number(handle.value));
  }).catch(function (error) {
    var line = form.querySelector("[data-instant-fails]");
    line.textContent = (error instanceof TypeError ? "No answer from the app" : error.message) + ". The button shows an instant all the same.";
    line.hidden = false;
  });
})();
