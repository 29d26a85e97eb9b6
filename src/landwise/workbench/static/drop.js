// Dropping a file anywhere on the page chooses it in the form.
"use strict";
for (const form of document.querySelectorAll("form[data-drop]")) {
  const field = form.elements[form.dataset.drop];
  addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("dropping"); });
  addEventListener("dragleave", () => document.body.classList.remove("dropping"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    if (event.dataTransfer.files.length) { field.files = event.dataTransfer.files; field.focus(); }
  });
}
