/* Small helps for the round: how far this device's clock is off, and the unit of the second field of a pair.
   Without this script nothing is lost: the server's own time is kept anyway. */
(function () {
  "use strict";

  // The field carries the server's moment; performance.now() says how long ago it began to load here.
  function tellOffset() {
    var begun = Date.now() - (window.performance ? window.performance.now() : 0);
    Array.prototype.forEach.call(document.querySelectorAll("[data-offset]"), function (field) {
      var server = Number(field.getAttribute("data-offset"));
      if (server) { field.value = String(Math.round(begun - server)); }
    });
  }

  function followUnit() {
    var choice = document.querySelector("select[data-unit-field]");
    if (!choice) { return; }
    function show() {
      Array.prototype.forEach.call(document.querySelectorAll("[data-unit]"), function (unit) {
        unit.textContent = choice.value;
      });
    }
    choice.addEventListener("change", show);
    show();
  }

  // The present stop of a long walk comes into sight beside the work, without moving the page.
  function showHere() {
    var here = document.querySelector(".walk .is-here"), walk = document.querySelector(".round-walk");
    if (here && walk && walk.scrollHeight > walk.clientHeight) {
      walk.scrollTop = here.offsetTop - walk.clientHeight / 3;
    }
  }

  tellOffset();
  followUnit();
  showHere();
})();
