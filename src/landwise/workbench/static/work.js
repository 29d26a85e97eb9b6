// A long piece of work: asks how far it is, and loads the page again once it is over.
"use strict";
const work = document.querySelector("[data-job]");
if (work) {
  const bar = work.querySelector("progress"), says = work.querySelector("[data-says]"), said = work.querySelector("[data-said]");
  const look = async () => {
    try {
      const reply = await fetch(`/jobs/${work.dataset.job}`);
      if (reply.status === 404) return location.reload(); // the workbench was started again: the page begins anew
      const told = await reply.json();
      bar.max = told.whole || 1;
      bar.value = told.part;
      if (says.textContent !== told.says) { says.textContent = told.says; said.textContent = told.says; }
      if (["done", "failed", "stopped"].includes(told.state)) return location.reload();
    } catch { says.textContent = "The workbench does not answer. Does it still run in its terminal? It is asked again until it does."; }
    setTimeout(look, 400);
  };
  setTimeout(look, 200);
}
