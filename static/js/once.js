/* A second tap on the same form within ten seconds sends nothing. After ten seconds a retry always goes through: the
   server knows the form's own id and writes it once. Buttons are marked, not disabled, so that the pressed one's name is sent. */
(function () {
  "use strict";
  var WAIT_MS = 10000;

  function free(form) {
    delete form.dataset.sentAt;
    Array.prototype.forEach.call(form.querySelectorAll("[type=submit][aria-disabled]"), function (button) {
      button.removeAttribute("aria-disabled");
    });
  }

  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (event.defaultPrevented || (form.getAttribute("method") || "get").toLowerCase() !== "post") { return; }
    if (form.dataset.sentAt && Date.now() - Number(form.dataset.sentAt) < WAIT_MS) {
      event.preventDefault();
      return;
    }
    form.dataset.sentAt = String(Date.now());
    Array.prototype.forEach.call(form.querySelectorAll("[type=submit]"), function (button) {
      button.setAttribute("aria-disabled", "true");
    });
    window.setTimeout(function () { free(form); }, WAIT_MS);
  });

  // A page fetched back out of the browser's memory is free again.
  window.addEventListener("pageshow", function (event) {
    if (event.persisted) { Array.prototype.forEach.call(document.forms, free); }
  });

  var summary = document.querySelector("[data-errors]");
  if (summary) { summary.focus(); }
})();
