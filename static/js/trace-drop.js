// A file dropped anywhere on the form is the file to send; without a script the field alone does it.
"use strict";
(() => {
  const form = document.getElementById("trace-drop");
  const field = form && form.querySelector("[data-drop]");
  if (!field) { return; }
  const over = (on) => form.classList.toggle("is-over", on);
  form.addEventListener("dragover", (event) => { event.preventDefault(); over(true); });
  form.addEventListener("dragleave", () => over(false));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    if (event.dataTransfer.files.length !== 1) { return; }
    field.files = event.dataTransfer.files;
    form.requestSubmit();
  });
})();
