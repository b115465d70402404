/* A half-typed form keeps its place on this tablet (sessionStorage): by person, page path, and the form's id or action.

   Never kept: passwords and PINs, files, hidden fields, anything marked data-keep="no". A form with a big field ([data-big])
   is kept only where it says what for, data-keep="silo-a 2026-03-03T17:00": a number typed for one vessel must never come
   back in the field of another. What is older than the shift (12 h; a big field: 30 min) is forgotten. What was sent is
   forgotten when the next page has a message of success (data-kept="clear"), or is another page without errors. */
(function () {
  "use strict";
  var PREFIX = "daybook-kept:", SENT = "daybook-sent";
  var MINUTE_MS = 60000, OLD_MS = 12 * 60 * MINUTE_MS, OLD_BIG_MS = 30 * MINUTE_MS;
  var store;
  try { store = window.sessionStorage; store.getItem(SENT); } catch (refused) { return; }

  function person() {
    var who = document.querySelector("[data-person]");
    return who ? who.getAttribute("data-person") : "";
  }

  function nameOf(form) {
    var what = form.getAttribute("data-keep") || form.getAttribute("id") || form.getAttribute("action") || "form";
    return PREFIX + person() + ":" + location.pathname + "#" + what;
  }

  function keepable(field) {
    return field.name && !field.disabled && !field.closest('[data-keep="no"]') &&
      ["password", "file", "hidden", "submit", "button", "reset", "image"].indexOf(field.type) < 0 &&
      !/(^|[-_])(pin|password|passcode|secret|otp)([-_]?\d*)?($|[-_])/i.test(field.name) &&
      !/(current-password|new-password|one-time-code)/.test(field.autocomplete || "");
  }

  function fieldsOf(form) {
    return Array.prototype.filter.call(form.elements, keepable);
  }

  function ticks(field) { return field.type === "checkbox" || field.type === "radio"; }

  function read(form) {
    var kept = [];
    fieldsOf(form).forEach(function (field) {
      if (ticks(field)) { kept.push([field.name, field.value, field.checked]); }
      else if (field.multiple) {
        kept.push([field.name, Array.prototype.map.call(field.selectedOptions, function (o) { return o.value; })]);
      } else { kept.push([field.name, field.value]); }
    });
    return kept;
  }

  function fill(form, kept) {
    kept.forEach(function (item) {
      fieldsOf(form).forEach(function (field) {
        if (field.name !== item[0]) { return; }
        if (ticks(field)) { if (field.value === item[1]) { field.checked = item[2]; } }
        else if (field.multiple) {
          Array.prototype.forEach.call(field.options, function (o) { o.selected = item[1].indexOf(o.value) >= 0; });
        } else { field.value = item[1]; }
      });
    });
  }

  function save(form) {
    var kept = { at: Date.now(), fields: read(form) };
    try { store.setItem(nameOf(form), JSON.stringify(kept)); } catch (full) { /* typing goes on without */ }
  }

  function restore(form) {
    var name = nameOf(form), kept = null;
    try { kept = JSON.parse(store.getItem(name)); } catch (broken) { kept = null; }
    var old = form.querySelector("[data-big]") ? OLD_BIG_MS : OLD_MS;
    if (!kept || !kept.fields || Date.now() - kept.at > old) { store.removeItem(name); return; }
    var before = JSON.stringify(read(form));
    fill(form, kept.fields);
    if (JSON.stringify(read(form)) !== before) { say(form); }
  }

  // Words come from the page, in its language: <template id="kept-words">.
  function say(form) {
    var words = document.getElementById("kept-words");
    if (words && words.content) { form.insertBefore(words.content.cloneNode(true), form.firstChild); }
  }

  // getAttribute, because a field may be named "method" or "id" and would answer instead.
  function wanted(form) {
    var keep = form.getAttribute("data-keep");
    if ((form.getAttribute("method") || "get").toLowerCase() !== "post" || keep === "no") { return false; }
    return Boolean(keep) || !form.querySelector("[data-big]");
  }

  // What was sent is settled when the next page says so, or is another page and shows no errors.
  var sent = store.getItem(SENT), errors = document.querySelector("[data-errors]");
  if (sent) {
    var settled = document.querySelector('[data-kept="clear"]') ||
      (!errors && !document.querySelector('[data-kept="hold"]') && sent.indexOf(":" + location.pathname + "#") < 0);
    if (settled) { store.removeItem(sent); }
    store.removeItem(SENT);
  }

  Array.prototype.filter.call(document.forms, wanted).forEach(function (form) {
    // A form that came back with errors already holds what was typed.
    if (!errors) { restore(form); }
    form.addEventListener("input", function () { save(form); });
    form.addEventListener("change", function () { save(form); });
    form.addEventListener("submit", function () { save(form); store.setItem(SENT, nameOf(form)); });
  });
})();
