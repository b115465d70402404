/* On-screen number keys for the one big field. Without this script they stay hidden and the field works as it is.

   [data-keypad] holds the keys; [data-key] is "0".."9", ".", "-", "back", "clear" or "unit". They fill the big field
   ([data-big]) that had the focus last, else the first one of the same form. */
(function () {
  "use strict";

  function fieldsNear(pad) {
    var form = pad.closest("form") || document;
    return Array.prototype.slice.call(form.querySelectorAll("[data-big]"));
  }

  function put(field, text, start, end) {
    field.value = text;
    field.focus({ preventScroll: true });
    field.setSelectionRange(start, end === undefined ? start : end);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }

  function insert(field, key) {
    var from = field.selectionStart === null ? field.value.length : field.selectionStart;
    var to = field.selectionEnd === null ? from : field.selectionEnd;
    put(field, field.value.slice(0, from) + key + field.value.slice(to), from + 1);
  }

  function erase(field) {
    var from = field.selectionStart, to = field.selectionEnd;
    if (from === to) { from = Math.max(0, from - 1); }
    put(field, field.value.slice(0, from) + field.value.slice(to), from);
  }

  function sign(field) {
    var minus = /^[-\u2212]/.test(field.value);
    var text = minus ? field.value.slice(1) : "-" + field.value;
    put(field, text, text.length);
  }

  function unit(field, pad) {
    var form = pad.closest("form");
    var choice = form && form.querySelector("select[data-unit-field]");
    if (!choice) { return; }
    choice.selectedIndex = (choice.selectedIndex + 1) % choice.options.length;
    choice.dispatchEvent(new Event("change", { bubbles: true }));
    field.focus({ preventScroll: true });
  }

  function press(key, field, pad) {
    if (key === "back") { erase(field); }
    else if (key === "clear") { put(field, "", 0); }
    else if (key === "-") { sign(field); }
    else if (key === "unit") { unit(field, pad); }
    else { insert(field, key); }
  }

  function start(pad) {
    var fields = fieldsNear(pad);
    if (!fields.length) { return; }
    var current = fields[0];
    fields.forEach(function (field) {
      field.addEventListener("focus", function () { current = field; });
      // Two keyboards at once would cover the page: on a touch screen ours is the one.
      if (window.matchMedia("(pointer: coarse)").matches) { field.setAttribute("inputmode", "none"); }
    });
    pad.hidden = false;
    // The field keeps the focus while a key is pressed.
    pad.addEventListener("pointerdown", function (event) {
      if (event.target.closest("[data-key]")) { event.preventDefault(); }
    });
    pad.addEventListener("click", function (event) {
      var key = event.target.closest("[data-key]");
      if (key) { press(key.getAttribute("data-key"), current, pad); }
    });
  }

  Array.prototype.forEach.call(document.querySelectorAll("[data-keypad]"), start);
})();
