// The workbench's own script: it sends the form as it stands, shows the answer, and keeps the address true.
// Everything also works without it: the form has a button, and every link leads to a whole page.
"use strict";

document.documentElement.classList.add("scripted");

// Light and dark. The server reads the cookie, so no page flashes in the wrong one.
const look = document.getElementById("look");
if (look) {
  const root = document.documentElement;
  const dark = () => root.dataset.look ? root.dataset.look === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
  const name = () => { look.textContent = dark() ? "Light" : "Dark"; };
  look.hidden = false;
  name();
  look.addEventListener("click", () => {
    root.dataset.look = dark() ? "light" : "dark";
    document.cookie = `look=${root.dataset.look}; path=/; max-age=31536000; samesite=strict`;
    name();
  });
}

// Lists that a word narrows.
for (const box of document.querySelectorAll("[data-filter]")) {
  box.addEventListener("input", () => {
    const wanted = box.value.toLowerCase().split(/\s+/).filter(Boolean);
    for (const item of document.querySelectorAll(box.dataset.filter)) {
      const text = item.textContent.toLowerCase();
      item.hidden = !wanted.every((word) => text.includes(word));
    }
  });
}

// A text that is longer than its field stands below it in full while the field is in use, and when it is pointed at.
const longer = (box) => box.matches?.("input[type=text]") && box.scrollWidth > box.clientWidth + 1;
const inFull = (box) => {
  let full = box.nextElementSibling?.matches(".full") ? box.nextElementSibling : null;
  if (!longer(box)) return full?.remove();
  if (!full) {
    full = document.createElement("p");
    full.className = "full";
    full.setAttribute("aria-hidden", "true"); // the field itself is read out whole
    box.after(full);
  }
  full.textContent = box.value;
};
document.addEventListener("focusin", (event) => inFull(event.target));
document.addEventListener("input", (event) => { if (event.target === document.activeElement) inFull(event.target); });
document.addEventListener("focusout", (event) => { if (event.target.nextElementSibling?.matches(".full")) event.target.nextElementSibling.remove(); });
document.addEventListener("pointerover", (event) => {
  const box = event.target;
  if (longer(box)) { box.dataset.hint ??= box.title; box.title = box.value; }
  else if (box.dataset?.hint !== undefined) box.title = box.dataset.hint;
});

// The part page.
const ask = document.getElementById("ask");
if (ask) {
  const result = document.getElementById("result"), said = document.getElementById("said");
  const trouble = document.getElementById("trouble"), back = document.getElementById("back");
  const tab = crypto.randomUUID();
  const REST_MS = 160, LATE_MS = 400;
  const pause = (ms) => new Promise((done) => setTimeout(done, ms));
  let stands = location.search;
  let latest = null, drawing = null, newest = 0, waiting = 0, turn = 0, steps = history.state?.steps ?? 0;

  for (const button of ask.querySelectorAll(".no-script")) button.hidden = true;
  // On a narrow screen the drawings come first: the question folds into its headings.
  if (matchMedia("(max-width: 1080px)").matches && result.querySelector("table.row, [data-wanted]") && !ask.querySelector("[aria-invalid]")) {
    for (const group of ask.querySelectorAll("details")) group.open = false;
  }
  // Nothing asked yet: what names the part stays open, and the picture follows it.
  if (matchMedia("(max-width: 1080px)").matches && result.querySelector(".start figure") && !ask.querySelector("[aria-invalid]")) {
    for (const group of [...ask.querySelectorAll("details")].slice(1)) group.open = false;
  }
  back.hidden = false;
  back.disabled = steps === 0;
  back.addEventListener("click", () => history.back());

  const asked = () => {
    const query = new URLSearchParams();
    // What stands in the boxes goes out as typed: sliders have no name, so their steps never change the question.
    for (const [name, text] of new FormData(ask)) if (text.trim()) query.append(name, text.trim());
    return query;
  };
  // Who stands in the row now, for a picture before the rest of the answer.
  const standing = () => {
    const query = new URLSearchParams({ quick: "1" });
    for (const link of result.querySelectorAll("table.row thead a")) query.append("row", link.dataset.open);
    query.set("choice", result.querySelector("table.row th.choice a")?.dataset.open || "");
    return `&${query}`;
  };
  const opened = (query) => query.getAll("open");

  const showErrors = (errors, general) => {
    trouble.textContent = general || "";
    for (const field of ask.querySelectorAll("[data-field]")) {
      const text = errors[field.dataset.field] || "";
      const note = field.querySelector(".error");
      if (note.textContent !== text) note.textContent = text;
      const box = field.querySelector("[name]");
      if (text) box.setAttribute("aria-invalid", "true"); else box.removeAttribute("aria-invalid");
      if (text) field.closest("details").open = true;
    }
  };

  const showSliders = (sliders, held) => {
    for (const slide of ask.querySelectorAll(".slide")) {
      const place = sliders[slide.dataset.name];
      if (!place) continue;
      slide.setAttribute("aria-valuetext", place.says || "");
      if (slide !== held) slide.value = place.value;
      const text = slide.dataset.for && document.getElementById(slide.dataset.for);
      if (text) text.placeholder = place.says || "";
    }
  };

  const setHidden = (name, values) => {
    for (const old of ask.querySelectorAll(`input[type=hidden][name="${name}"]`)) old.remove();
    for (const value of values) {
      const box = document.createElement("input");
      box.type = "hidden"; box.name = name; box.value = value;
      ask.prepend(box);
    }
  };

  // Drawings that take their time come after the page, each into its own place.
  const loadLater = async () => {
    for (const figure of result.querySelectorAll("figure[data-load]")) {
      try {
        const reply = await fetch(figure.dataset.load, { headers: { accept: "application/json" } });
        const { svg } = reply.ok ? await reply.json() : {};
        if (svg && figure.isConnected) figure.firstElementChild.innerHTML = svg;
      } catch { return; } // the link that stands there still leads to it
      if (!figure.isConnected) return;
    }
  };

  // The look in three dimensions: its script and its library come when somebody opens it, and stay open over an answer.
  let solids = null;
  result.addEventListener("click", async (event) => {
    const place = event.target.closest(".solid > button")?.parentElement;
    if (!place) return;
    place.firstElementChild.disabled = true;
    try {
      solids = await import(place.dataset.script);
      await solids.open(place);
    } catch {
      place.textContent = "The look in three dimensions could not be loaded; the flat drawings show the same.";
    }
  });

  // How far the work is, while it takes its time.
  const working = document.getElementById("working");
  const tellProgress = async (signal) => {
    for (let wait = 500; !signal.aborted; wait = 400) {
      await pause(wait);
      if (signal.aborted || latest?.signal !== signal || !result.hasAttribute("aria-busy")) return;
      try {
        const told = await (await fetch(`/part/progress?tab=${tab}`, { signal })).json();
        if (!told.whole || !result.hasAttribute("aria-busy")) continue;
        working.hidden = false;
        working.firstElementChild.max = told.whole;
        working.firstElementChild.value = told.part;
        working.lastElementChild.textContent = `${told.part} of ${told.whole}: ${told.says}`;
      } catch { return; }
    }
  };

  // Asks with what stands in the form. `step` says whether this becomes a step that Undo goes back to.
  const show = async (query, { step = false, held = null } = {}) => {
    const number = newest += 1;
    if (drawing) {
      // One picture at a time: the one under way is drawn, then the newest question goes; those between are dropped.
      await Promise.race([drawing, pause(LATE_MS)]);
      if (number !== newest) return;
    }
    latest?.abort();
    const mine = latest = new AbortController();
    clearTimeout(waiting);
    result.setAttribute("aria-busy", "true");
    waiting = setTimeout(() => result.parentElement.classList.add("waiting"), 250);
    query.set("room", String(Math.floor(result.clientWidth)));
    query.set("tab", tab);
    query.set("turn", String(turn += 1));
    let reply, answer;
    try {
      const get = async (more) => {
        reply = await fetch(`/part/row?${query}${more}`, { signal: mine.signal, headers: { accept: "application/json" } });
        answer = await reply.json();
      };
      const picture = get(standing()), over = drawing = picture.catch(() => {});
      over.then(() => { if (drawing === over) drawing = null; });
      await picture;
      if (answer.sketch) {
        // The picture is there at once; the figures follow.
        const place = result.querySelector("td.picture, figure .picture");
        if (place) place.innerHTML = answer.sketch;
        if (number !== newest) return;
        result.parentElement.classList.add("waiting");
        // While a slider moves only pictures are asked for: the figures begin once it rests.
        if (held?.classList.contains("slide") && !step) await pause(REST_MS);
        if (number !== newest) return;
        tellProgress(mine.signal);
        await get("");
      }
    } catch (error) {
      if (error.name === "AbortError") return;
      trouble.textContent = "The workbench does not answer. Does it still run in its terminal? It is asked again until it does.";
      setTimeout(() => { if (latest === mine) show(asked(), { step, held }); }, 2000);
      return;
    } finally {
      if (latest === mine) {
        clearTimeout(waiting);
        result.parentElement.classList.remove("waiting");
        result.removeAttribute("aria-busy");
        working.hidden = true;
      }
    }
    if (number !== newest || answer.stale) return;
    showErrors(answer.errors, answer.trouble);
    if (!reply.ok) return;
    const wide = result.querySelector(".scroll")?.scrollLeft || 0;
    result.innerHTML = answer.html;
    solids?.again(result);
    const row = result.querySelector(".scroll");
    if (row) row.scrollLeft = wide;
    if (said.textContent !== answer.said) said.textContent = answer.said;
    showSliders(answer.sliders, held);
    for (const place of document.querySelectorAll("[data-contradicted]")) {
      if (place.textContent !== answer.contradicted) place.textContent = answer.contradicted;
    }
    if (step && answer.address !== location.pathname + location.search) {
      steps += 1;
      history.pushState({ steps }, "", answer.address);
      stands = location.search;
      back.disabled = false;
    } else if (!step) {
      history.replaceState({ steps }, "", location.href);
    }
    for (const link of document.querySelectorAll("[data-units]")) {
      const units = new URLSearchParams(answer.address.split("?")[1]);
      if (link.textContent === "mil") units.set("units", "mil"); else units.delete("units");
      link.href = `/part?${units}`;
    }
    loadLater();
    document.title = `${result.querySelector("h1")?.textContent || "One part"} · landwise`;
  };

  let last = 0;
  ask.addEventListener("input", (event) => {
    const box = event.target;
    if (box.classList.contains("slide")) {
      const text = box.dataset.for && document.getElementById(box.dataset.for);
      if (text) text.value = `${Number(box.value)} ${box.dataset.unit}`.trim();
      show(asked(), { held: box });
    } else {
      clearTimeout(last);
      last = setTimeout(() => show(asked()), 250);
    }
  });
  ask.addEventListener("change", (event) => {
    clearTimeout(last);
    show(asked(), { step: true, held: event.target });
  });
  ask.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(last);
    show(asked(), { step: true });
  });

  // Links of the result change the state without loading the page; with a modifier they stay links.
  result.addEventListener("click", async (event) => {
    const link = event.target.closest("a[data-open], a[data-go]");
    if (!link || event.metaKey || event.ctrlKey || event.shiftKey || event.button) return;
    event.preventDefault();
    const query = new URLSearchParams(link.search);
    setHidden("open", opened(query));
    setHidden("all", query.getAll("all"));
    const name = link.dataset.open;
    await show(asked(), { step: true });
    const again = name && result.querySelector(`a[data-open="${CSS.escape(name)}"]`);
    (again || result.querySelector(".scroll"))?.focus({ preventScroll: true });
    if (name) result.querySelector(`.opened section[data-name="${CSS.escape(name)}"]`)?.scrollIntoView({ block: "start" });
  });

  // A jump within the page is no other state.
  addEventListener("popstate", () => { if (location.search !== stands) location.reload(); });
  let width = result.clientWidth;
  new ResizeObserver(() => {
    if (Math.abs(result.clientWidth - width) < 24) return;
    width = result.clientWidth;
    if (result.querySelector("table.row")) show(asked());
  }).observe(result);
  // The server did not know the room when it drew the first row.
  if (result.querySelector("table.row, [data-wanted]")) show(asked());
}
