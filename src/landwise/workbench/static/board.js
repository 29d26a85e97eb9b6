// The board page: every change goes out as it is made, with the version it started from; the answer brings the new
// choice, and what is still being worked out is asked for until it is there. Without it every form has its button.
"use strict";

// The first page: a bill dropped anywhere is chosen in the form; a study and placement files find their fields.
const bills = document.querySelector("form[data-bills]");
if (bills) {
  const fields = { bill: document.getElementById("bill"), placement: document.getElementById("placement"), study: document.getElementById("study") };
  const give = (field, files) => {
    const held = new DataTransfer();
    for (const one of files) held.items.add(one);
    field.files = held.files;
    field.focus();
  };
  addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("dropping"); });
  addEventListener("dragleave", () => document.body.classList.remove("dropping"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    const files = [...event.dataTransfer.files];
    const studies = files.filter((one) => one.name.endsWith(".toml"));
    const placed = files.filter((one) => !studies.includes(one) && /pos|pick|place|centroid|cpl|\bxy\b/i.test(one.name));
    const rest = files.filter((one) => !studies.includes(one) && !placed.includes(one));
    if (studies.length) give(fields.study, studies.slice(0, 1));
    if (rest.length) give(fields.bill, rest.slice(0, 1));
    else if (placed.length && !fields.bill.files.length && !studies.length) give(fields.bill, placed.splice(0, 1));
    if (placed.length) give(fields.placement, placed);
  });
}

const board = document.querySelector("[data-board]");
if (board) {
  const place = `/boards/${board.dataset.board}`;
  const result = document.getElementById("result"), said = document.getElementById("said");
  const trouble = board.querySelector("[data-trouble]"), version = board.querySelector("[data-version]"), undo = board.querySelector("[data-undo]");
  const form = document.getElementById("limits") || document.getElementById("parts");
  for (const button of document.querySelectorAll(".no-script")) button.hidden = true;

  const say = (text) => { if (trouble.textContent !== text) trouble.textContent = text || ""; };
  const view = () => {
    const query = new URLSearchParams(location.search);
    query.delete("again");
    if (result) query.set("room", String(Math.floor(result.clientWidth)));
    return query;
  };
  // What was refused stands in its field and not in the study: its error stays until the field is changed again.
  const refused = new Map();
  const showErrors = (errors, only) => {
    errors = { ...errors, ...Object.fromEntries(refused) };
    for (const field of [...form.querySelectorAll("[data-field]"), ...(result?.querySelectorAll("[data-field]") ?? [])]) {
      if (only && !only.includes(field.dataset.field)) continue;
      const text = errors[field.dataset.field] || "", note = field.querySelector(".error");
      if (note.textContent !== text) note.textContent = text;
      const box = field.querySelector("[name]:not([type=hidden])");
      if (text) { box.setAttribute("aria-invalid", "true"); const group = field.closest("details"); if (group) group.open = true; }
      else box.removeAttribute("aria-invalid");
    }
  };
  const stands = (answer) => {
    if (!answer.tag) return;
    board.dataset.tag = answer.tag;
    for (const box of document.querySelectorAll("input[name=tag]")) box.value = answer.tag;
    if (answer.version) {
      version.textContent = `Version ${answer.version}: ${answer.did}`;
      undo.hidden = !answer.back;
      const name = board.querySelector(".board-head h1");
      if (answer.title && name.textContent !== answer.title) { name.textContent = answer.title; document.title = `${answer.title} · landwise`; }
    }
  };
  const AGAIN_MS = 1500;
  let polling = 0, shown = "";
  const show = (answer) => {
    const key = `${answer.tag} ${answer.shows} ${answer.over} ${location.search}`;
    if (key !== shown) {
      const named = (one) => one.querySelector("summary")?.textContent;
      const open = [...result.querySelectorAll("details[open]")].map(named), active = document.activeElement;
      const where = result.contains(active) ? active.getAttribute("href") : null, typing = result.contains(active) ? active.id : "";
      // What is being typed as an answer stays.
      const typed = [...result.querySelectorAll("[data-asks] input[id]")].filter((one) => one.value !== one.defaultValue).map((one) => [one.id, one.value]);
      result.innerHTML = answer.html;
      for (const [id, text] of typed) { const box = document.getElementById(id); if (box) box.value = text; }
      if (typing) document.getElementById(typing)?.focus({ preventScroll: true });
      for (const one of result.querySelectorAll("details")) if (open.includes(named(one))) one.open = true;
      if (where) result.querySelector(`[href="${CSS.escape(where)}"]`)?.focus({ preventScroll: true });
      shown = key;
    } else {
      const bar = result.querySelector("progress"), says = result.querySelector("[data-says]");
      if (bar) { bar.max = answer.job.whole || 1; bar.value = answer.job.part; }
      if (says && says.textContent !== answer.job.says) says.textContent = answer.job.says;
    }
    if (answer.said && said.textContent !== answer.said) said.textContent = answer.said;
    result.dataset.over = answer.over ? "yes" : "no";
    result.dataset.shows = answer.shows;
    clearTimeout(polling);
    if (!answer.over) polling = setTimeout(look, 300);
  };
  let looking = null;
  const look = async () => {
    looking?.abort();
    const mine = looking = new AbortController();
    try {
      const reply = await fetch(`${place}/state.json?${view()}`, { signal: mine.signal, headers: { accept: "application/json" } });
      if (!reply.ok) return location.reload();
      const answer = await reply.json();
      if (answer.tag !== board.dataset.tag) return say("This board was changed in another window. Load the page again to see it as it is now.");
      showErrors(answer.errors);
      say(answer.trouble);
      show(answer);
    } catch (error) {
      if (error.name === "AbortError") return;
      say("The workbench does not answer. Does it still run in its terminal? It is asked again until it does.");
      polling = setTimeout(look, AGAIN_MS);
    }
  };

  // Changes go out one after the other, so that each starts from the version the one before has made.
  let queue = Promise.resolve(), waiting = 0;
  const change = (name, text) => { waiting += 1; queue = queue.then(() => send(name, text)).finally(() => { waiting -= 1; }); };
  // While the workbench does not answer, such as when it is started again, the change waits and is sent until it does.
  const sent = async (name, text) => {
    for (;;) {
      try {
        return await fetch(`${place}?${view()}`, {
          method: "PUT", headers: { "if-match": board.dataset.tag, "content-type": "application/x-www-form-urlencoded", accept: "application/json" },
          body: new URLSearchParams([[name, text]]),
        });
      } catch {
        say("The workbench does not answer. Does it still run in its terminal? What you changed is sent once it does.");
        await new Promise((done) => setTimeout(done, AGAIN_MS));
      }
    }
  };
  const send = async (name, text) => {
    looking?.abort();
    clearTimeout(polling);
    result?.parentElement.classList.add("waiting");
    try {
      const reply = await sent(name, text);
      const answer = await reply.json();
      if (reply.status === 412) return say(`${answer.trouble} What you typed still stands in its field.`);
      stands(answer);
      if (!reply.ok && answer.errors?.[name]) refused.set(name, answer.errors[name]);
      else refused.delete(name);
      showErrors(answer.errors, reply.ok && result ? null : [name]);
      say(answer.trouble);
      if (!reply.ok) return;
      if (new URLSearchParams(location.search).has("point") && result) {
        const query = new URLSearchParams(location.search);
        query.delete("point");
        history.replaceState(null, "", `${location.pathname}${query.size ? `?${query}` : ""}`);
      }
      if (/^scenario\.\d+\.name$/.test(name)) {
        const set = form.querySelector(`[data-field="${CSS.escape(name)}"]`).closest("fieldset");
        set.querySelector("legend").textContent = answer.values[name];
        set.querySelector("button").textContent = `Take ${answer.values[name]} out`;
      }
      if (result) { if (waiting === 1) show(answer); }
      else mended(answer);
    } catch {
      say("The workbench does not answer. Does it still run in its terminal? What you typed still stands in its field.");
    } finally {
      result?.parentElement.classList.remove("waiting");
      if (result && result.dataset.over === "no" && waiting === 1 && !polling) look();
    }
  };
  const mended = (answer) => {
    for (const [name, text] of Object.entries(answer.values || {})) {
      const field = form.querySelector(`[data-field="${CSS.escape(name)}"]`);
      const box = field.querySelector("[name]:not([type=hidden])");
      if (box.type !== "checkbox" && document.activeElement !== box) box.value = text;
      field.classList.add("changed");
      const row = name.split(".")[1], left = answer.guesses[row] || [];
      if (!left.includes(name.split(".")[2])) {
        box.classList.remove("guess");
        const reason = field.querySelector(".reason");
        if (reason?.textContent.startsWith("guessed")) reason.textContent = "";
      }
    }
  };

  form.addEventListener("change", (event) => {
    // A slider has no name: what counts is what stands in its box.
    const box = event.target.dataset.for ? document.getElementById(event.target.dataset.for) : event.target;
    if (!box.name || box.type === "hidden" || box.form !== form) return;
    change(box.name, box.type === "checkbox" ? (box.checked ? "yes" : "no") : box.value);
  });
  form.addEventListener("input", (event) => {
    const box = event.target, slide = form.querySelector(`.slide[data-for="${CSS.escape(box.id)}"]`);
    if (box.dataset.for) document.getElementById(box.dataset.for).value = Number(box.value) ? box.value : "";
    else if (slide) slide.value = Number(box.value) || 0;
  });
  // Enter in a field has sent its change before the form would go out as a whole.
  form.addEventListener("submit", (event) => event.preventDefault());

  if (result) {
    if (matchMedia("(max-width: 1080px)").matches && !form.querySelector("[aria-invalid]")) for (const group of form.querySelectorAll("details")) group.open = false;
    // An answer to an open question goes the way of its field at the left.
    result.addEventListener("submit", (event) => {
      if (!event.target.hasAttribute("data-asks")) return;
      event.preventDefault();
      for (const box of event.target.querySelectorAll("[data-field] [name]")) {
        const other = document.getElementById(`f-${box.name}`);
        if (box.value === box.defaultValue) continue;
        box.defaultValue = other.value = box.value;
        change(box.name, box.value);
      }
    });
    result.addEventListener("submit", async (event) => {
      if (!event.target.hasAttribute("data-stop")) return;
      event.preventDefault();
      event.target.querySelector("button").disabled = true;
      const reply = await fetch(`${place}/stop?${view()}`, { method: "POST", headers: { accept: "application/json", "content-type": "application/x-www-form-urlencoded" } });
      if (reply.ok) show(await reply.json());
    });
    // Points of the trade-off open in place; with a modifier they stay links.
    result.addEventListener("click", (event) => {
      const link = event.target.closest(".curve a, a[data-go]");
      if (!link || event.metaKey || event.ctrlKey || event.shiftKey || event.button) return;
      event.preventDefault();
      history.pushState(null, "", link.getAttribute("href"));
      look().then(() => result.querySelector(".point-bar, h2.first")?.scrollIntoView({ block: "nearest" }));
    });
    addEventListener("popstate", look);
    shown = "";
    look();
    let width = result.clientWidth;
    new ResizeObserver(() => {
      if (Math.abs(result.clientWidth - width) < 40) return;
      width = result.clientWidth;
      shown = "";
      look();
    }).observe(result);
  }
}
