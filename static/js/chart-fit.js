/* Tapping marks on a photo: choose which mark, tap the photo, and its two numbers are filled in. Without this script the
   numbers are read off the grid and typed. */
(function () {
  "use strict";

  var photo = document.getElementById("fit-photo"), choices = document.getElementById("tap-choices");
  if (!photo || !choices) { return; }
  var mark = choices.getAttribute("data-decimal-mark") || ".", chosen = null, crosses = {};

  function field(name, axis) { return document.querySelector('[data-mark="' + name + " " + axis + '"]'); }

  function choose(button) {
    chosen = button;
    Array.prototype.forEach.call(choices.querySelectorAll("button"), function (one) {
      one.setAttribute("aria-pressed", one === button ? "true" : "false");
    });
  }

  function fill(input, value) {
    input.value = value.toFixed(1).replace(".", mark);
    input.dispatchEvent(new Event("input", { bubbles: true }));
    input.dispatchEvent(new Event("change", { bubbles: true }));
  }

  // A cross where the finger was: a point in per cent of the photo, so that it stays there when the page is resized.
  function cross(name, x, y) {
    var one = crosses[name] || document.createElement("span");
    crosses[name] = one;
    one.className = "tapped";
    one.style.left = 100 * x + "%";
    one.style.top = 100 * y + "%";
    photo.appendChild(one);
  }

  function next() {
    var buttons = Array.prototype.slice.call(choices.querySelectorAll("button"));
    var empty = buttons.filter(function (one) { return !field(one.value, "x").value; });
    if (empty.length) { choose(empty[0]); }
  }

  choices.addEventListener("click", function (event) {
    var button = event.target.closest("button");
    if (button) { choose(button); }
  });

  photo.addEventListener("click", function (event) {
    if (!chosen) { return; }
    var box = photo.querySelector("img").getBoundingClientRect(), name = chosen.value;
    var x = event.clientX - box.left, y = event.clientY - box.top;
    fill(field(name, "x"), 1000 * x / box.width);
    fill(field(name, "y"), 1000 * y / box.width);
    cross(name, x / box.width, y / box.height);
    next();
  });

  choices.hidden = false;
  photo.classList.add("is-tapped");
  choose(choices.querySelector("button"));
  next();
})();
