// A long piece of work: asks how far it is, and loads the page again once it is over.
"use strict";
const work = document.querySelector("[data-job]");
if (work) {
  const bar = work.querySelector("progress"), says = work.querySelector("[data-says]"), said = work.querySelector("[data-said]");
  const look = async () => {
    try {
      const told = await (await fetch(`/jobs/${work.dataset.job}`)).json();
      bar.max = told.whole || 1;
      bar.value = told.part;
      if (says.textContent !== told.says) { says.textContent = told.says; said.textContent = told.says; }
      if (["done", "failed", "stopped"].includes(told.state)) return location.reload();
    } catch { says.textContent = "The workbench does not answer. Does it still run in its terminal?"; }
    setTimeout(look, 400);
  };
  setTimeout(look, 200);
}
