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
