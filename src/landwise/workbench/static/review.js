// The review page: the board on a canvas, its filters, the foil slider and the figures of one opening.
// All figures come from the server; this script only draws and picks.

const page = document.querySelector("[data-review]");
if (page) start(page);

function floats(text) { return new Float32Array(bytes(text).buffer); }
function integers(text) { return new Int32Array(bytes(text).buffer); }
function bytes(text) { return Uint8Array.from(atob(text), (c) => c.charCodeAt(0)); }

function opened(rings) {
  const starts = integers(rings.starts), points = floats(rings.points), owner = integers(rings.owner);
  const ends = Int32Array.from(starts, (_, k) => (k + 1 < starts.length ? starts[k + 1] : points.length / 2));
  return { starts, ends, points, owner };
}

function trace(path, rings, ring) {
  const { points, starts, ends } = rings;
  path.moveTo(points[2 * starts[ring]], points[2 * starts[ring] + 1]);
  for (let k = starts[ring] + 1; k < ends[ring]; k++) path.lineTo(points[2 * k], points[2 * k + 1]);
  path.closePath();
}

async function start(page) {
  const base = page.dataset.review;
  const find = (name) => page.querySelector(`[data-part="${name}"]`);
  const canvas = find("board"), says = find("says"), figures = find("figures"), rows = find("rows");
  const form = find("filters"), slider = form.elements.foil, message = find("message");
  const told = JSON.parse(find("overview").textContent);
  const palette = told.colours;
  const pen = canvas.getContext("2d", { alpha: false });
  const snap = document.createElement("canvas");
  const unders = new Map();
  const state = { side: 0, foil: null, picked: -1, shapes: null, under: null, shown: null, order: [], view: null };
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const colour = (name) => (themed() ? palette.dark : palette.light)[name];
  function themed() {
    const set = document.documentElement.dataset.look;
    return set ? set === "dark" : dark.matches;
  }

  // --- reading ---

  async function ask(path) {
    const answer = await fetch(`${base}${path}&${page.dataset.options}`, { headers: { accept: "application/json" } });
    if (!answer.ok) throw new Error((await answer.text()).trim() || answer.statusText);
    return answer.json();
  }

  async function turn(side) {
    state.side = side;
    const raw = await ask(`/shapes.json?side=${told.sides[side].side}`);
    const shapes = {
      openings: opened(raw.openings), lands: opened(raw.lands), board: opened(raw.board), zones: opened(raw.zones),
      after: opened(raw.after), x: floats(raw.x), y: floats(raw.y), length: floats(raw.length), width: floats(raw.width),
      area: floats(raw.area), part: integers(raw.part), parts: raw.parts, pins: raw.pins, changes: raw.changes,
    };
    shapes.ringOf = firstRings(shapes.openings, shapes.x.length);
    shapes.extent = extent(shapes);
    shapes.grid = gridOf(shapes);
    state.shapes = shapes;
    state.picked = -1;
    state.view = null;
    state.layers = { lands: whole(shapes.lands), board: whole(shapes.board), zones: whole(shapes.zones), after: whole(shapes.after) };
    await lay(told.foils[slider.value] ?? told.sides[side].best);
  }

  function firstRings(rings, count) {
    const found = Array.from({ length: count }, () => []);
    rings.owner.forEach((owner, ring) => found[owner].push(ring));
    return found;
  }

  function extent(shapes) {
    let [x1, y1, x2, y2] = [Infinity, Infinity, -Infinity, -Infinity];
    const take = (points) => {
      for (let k = 0; k < points.length; k += 2) {
        x1 = Math.min(x1, points[k]); x2 = Math.max(x2, points[k]);
        y1 = Math.min(y1, points[k + 1]); y2 = Math.max(y2, points[k + 1]);
      }
    };
    take(shapes.openings.points);
    const own = (x2 - x1) * (y2 - y1);
    const before = [x1, y1, x2, y2];
    take(shapes.board.points);
    // An outline far larger than the paste is a drawing sheet's frame.
    if ((x2 - x1) * (y2 - y1) > 25 * own) [x1, y1, x2, y2] = before;
    return [x1 - 2, y1 - 2, x2 + 2, y2 + 2];
  }

  function gridOf(shapes) {
    const cell = 2, grid = new Map();
    for (let k = 0; k < shapes.x.length; k++) {
      const reach = shapes.length[k] / 2;
      for (let i = Math.floor((shapes.x[k] - reach) / cell); i <= Math.floor((shapes.x[k] + reach) / cell); i++)
        for (let j = Math.floor((shapes.y[k] - reach) / cell); j <= Math.floor((shapes.y[k] + reach) / cell); j++) {
          const key = i * 100003 + j;
          if (!grid.has(key)) grid.set(key, []);
          grid.get(key).push(k);
        }
    }
    return { cell, grid };
  }

  function whole(rings) {
    const path = new Path2D();
    for (let ring = 0; ring < rings.starts.length; ring++) trace(path, rings, ring);
    return path;
  }

  async function lay(um) {
    const side = told.sides[state.side].side, key = `${side} ${um}`;
    if (!unders.has(key)) {
      const raw = await ask(`/under.json?side=${side}&foil=${um}`);
      const found = { um, words: raw.words, code: bytes(raw.code), reasons: raw.reasons.map((r) => ({ name: r.name, code: bytes(r.code) })) };
      for (const name of ["margin", "ratio", "aspect", "transfer", "low", "high", "paste", "solder", "share", "gap", "starved", "touching"])
        found[name] = floats(raw[name]);
      unders.set(key, found);
    }
    state.under = unders.get(key);
    state.foil = um;
    sift();
    summarise();
    keep();
  }

  // --- filters ---

  function classOf(k) {
    const code = state.under.code[k];
    if (code === 2) return 0;
    if (code === 1) return 1;
    if (code === 3) return 2;
    return state.under.margin[k] < told.narrow ? 3 : 4;
  }

  function sift() {
    const { shapes, under } = state, count = shapes.x.length;
    const wanted = new Set([...form.querySelectorAll("[name=verdict]:checked")].map((box) => box.value));
    const text = form.elements.part.value.trim().toLowerCase();
    const least = length("least"), most = length("most");
    state.shown = new Uint8Array(count);
    const order = [];
    for (let k = 0; k < count; k++) {
      const name = shapes.part[k] < 0 ? "" : shapes.parts[shapes.part[k]].toLowerCase();
      const fits = wanted.has(under.words[under.code[k]]) && (!text || name.includes(text)) &&
        !(shapes.width[k] < least) && !(shapes.length[k] > most);
      state.shown[k] = fits ? 1 : 0;
      if (fits) order.push(k);
    }
    const rank = [3, 1, 0, 2]; // by code: holds last, fails first
    order.sort((a, b) => rank[under.code[a]] - rank[under.code[b]] || under.margin[a] - under.margin[b] || a - b);
    state.order = order;
    build();
    list();
    pick(state.picked, false);
  }

  function length(name) {
    const field = form.elements[name], text = field.value.trim();
    const note = find(`${name}-error`);
    const match = /^(\d+(?:\.\d+)?)\s*(mm|um|µm|mil)?$/.exec(text);
    const bad = text !== "" && !match;
    field.setAttribute("aria-invalid", bad ? "true" : "false");
    note.textContent = bad ? "a length such as 0.3 mm, 300 um or 12 mil" : "";
    if (!match) return NaN;
    const unit = { um: 0.001, "µm": 0.001, mil: 0.0254 }[match[2]] ?? 1;
    return Number(match[1]) * unit;
  }

  function build() {
    // One path a class and tile: only tiles in view are drawn.
    const { shapes } = state, [x1, y1, x2, y2] = shapes.extent, side = Math.max((x2 - x1) / 12, (y2 - y1) / 12, 1);
    const tiles = new Map();
    for (let k = 0; k < shapes.x.length; k++) {
      const i = Math.floor((shapes.x[k] - x1) / side), j = Math.floor((shapes.y[k] - y1) / side), key = i * 1000 + j;
      if (!tiles.has(key)) tiles.set(key, { x: x1 + i * side, y: y1 + j * side, paths: [] });
      const paths = tiles.get(key).paths, which = state.shown[k] ? classOf(k) : 5;
      paths[which] ??= new Path2D();
      for (const ring of shapes.ringOf[k]) trace(paths[which], shapes.openings, ring);
    }
    state.tiles = { side, tiles: [...tiles.values()] };
    full();
  }

  // --- drawing ---

  const FILL = ["brick", "ochre", "plum", "steel", "solder", null];
  let queued = 0, settle = 0, cost = 0;

  function size() {
    const scale = window.devicePixelRatio || 1, box = canvas.getBoundingClientRect();
    const wide = Math.max(1, Math.round(box.width * scale)), tall = Math.max(1, Math.round(box.height * scale));
    if (canvas.width !== wide || canvas.height !== tall) { canvas.width = snap.width = wide; canvas.height = snap.height = tall; }
    if (state.shapes && !state.view) fit();
  }

  function fit() {
    const [x1, y1, x2, y2] = state.shapes.extent;
    const scale = Math.min(canvas.width / (x2 - x1), canvas.height / (y2 - y1));
    state.view = { scale, x: (x1 + x2) / 2, y: (y1 + y2) / 2, least: scale / 2 };
  }

  function place(context, view) {
    // Board y runs up; the bottom is seen from the top through the board.
    context.setTransform(view.scale, 0, 0, -view.scale, canvas.width / 2 - view.x * view.scale, canvas.height / 2 + view.y * view.scale);
  }

  function full() {
    if (!state.tiles) return;
    size();
    const began = performance.now(), view = state.view;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = colour("paper");
    pen.fillRect(0, 0, canvas.width, canvas.height);
    place(pen, view);
    pen.lineWidth = 1.2 / view.scale;
    pen.fillStyle = colour("board");
    pen.fill(state.layers.board, "evenodd");
    pen.strokeStyle = colour("graphite");
    pen.stroke(state.layers.board);
    if (view.scale > 12) { pen.fillStyle = colour("grid"); pen.fill(state.layers.lands, "evenodd"); }
    const halfX = canvas.width / 2 / view.scale, halfY = canvas.height / 2 / view.scale, side = state.tiles.side;
    for (const tile of state.tiles.tiles) {
      if (tile.x > view.x + halfX + 5 || tile.x + side < view.x - halfX - 5) continue;
      if (tile.y > view.y + halfY + 5 || tile.y + side < view.y - halfY - 5) continue;
      for (let which = 5; which >= 0; which--) {
        const path = tile.paths[which];
        if (!path) continue;
        if (which === 5) { pen.strokeStyle = colour("grid"); pen.lineWidth = 0.8 / view.scale; pen.stroke(path); continue; }
        pen.fillStyle = colour(FILL[which]);
        pen.fill(path, "evenodd");
        if (which < 3) outline(path, which, view);
        else if (view.scale > 12) { pen.strokeStyle = colour("graphite"); pen.lineWidth = 1 / view.scale; pen.stroke(path); }
      }
    }
    pen.strokeStyle = colour("sea");
    pen.lineWidth = 1.6 / view.scale;
    if (form.elements.after.checked) pen.stroke(state.layers.after);
    pen.strokeStyle = colour("plum");
    pen.setLineDash([9 / view.scale, 4 / view.scale]);
    pen.stroke(state.layers.zones);
    pen.setLineDash([]);
    ring(view);
    rule(view);
    snap.getContext("2d").drawImage(canvas, 0, 0);
    snap.view = { ...view };
    cost = performance.now() - began;
    canvas.dataset.drawn = String(Number(canvas.dataset.drawn || 0) + 1);
    canvas.dataset.cost = cost.toFixed(1);
  }

  function outline(path, which, view) {
    // Shape as well as colour: failing openings have a heavy line, marginal ones a dashed one. From far away a
    // line would hide what it is drawn around; there the fills differ in lightness.
    if (view.scale < 8 * (window.devicePixelRatio || 1)) return;
    pen.strokeStyle = colour("ink");
    pen.lineWidth = (which === 0 ? 2 : 1.2) / view.scale;
    pen.setLineDash(which === 0 ? [] : [3 / view.scale, 2 / view.scale]);
    pen.stroke(path);
    pen.setLineDash([]);
  }

  function ring(view) {
    if (state.picked < 0) return;
    const { shapes } = state, k = state.picked, reach = Math.max(shapes.length[k] * 0.75, 9 / view.scale);
    pen.strokeStyle = colour("sea");
    pen.lineWidth = 3 / view.scale;
    pen.beginPath();
    pen.arc(shapes.x[k], shapes.y[k], reach, 0, 2 * Math.PI);
    pen.stroke();
  }

  function rule(view) {
    const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100], scale = window.devicePixelRatio || 1;
    const step = steps.findLast((mm) => mm * view.scale < canvas.width / 5) ?? 0.1;
    const y = canvas.height - 14 * scale, x = 14 * scale;
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = colour("paper");
    pen.fillRect(x - 6, y - 24 * scale, step * view.scale + 12, 34 * scale);
    pen.strokeStyle = pen.fillStyle = colour("ink");
    pen.lineWidth = 1.5 * scale;
    pen.beginPath();
    pen.moveTo(x, y - 5 * scale); pen.lineTo(x, y); pen.lineTo(x + step * view.scale, y); pen.lineTo(x + step * view.scale, y - 5 * scale);
    pen.stroke();
    pen.font = `${13 * scale}px sans-serif`;
    pen.fillText(`${step} mm`, x, y - 9 * scale);
  }

  function soon() {
    if (queued) return;
    queued = requestAnimationFrame(() => {
      queued = 0;
      if (cost < 12 || !snap.view) return full();
      // A costly board moves as its last picture, and is drawn anew once it rests.
      const old = snap.view, view = state.view, ratio = view.scale / old.scale;
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.fillStyle = colour("paper");
      pen.fillRect(0, 0, canvas.width, canvas.height);
      pen.setTransform(ratio, 0, 0, ratio, canvas.width / 2 - (view.x - old.x) * view.scale - ratio * canvas.width / 2,
        canvas.height / 2 + (view.y - old.y) * view.scale - ratio * canvas.height / 2);
      pen.drawImage(snap, 0, 0);
      clearTimeout(settle);
      settle = setTimeout(full, 90);
    });
  }

  // --- moving and picking ---

  function toBoard(event) {
    const box = canvas.getBoundingClientRect(), scale = canvas.width / box.width, view = state.view;
    const px = (event.clientX - box.left) * scale, py = (event.clientY - box.top) * scale;
    return [view.x + (px - canvas.width / 2) / view.scale, view.y - (py - canvas.height / 2) / view.scale];
  }

  function zoom(factor, at) {
    const view = state.view, scale = Math.min(Math.max(view.scale * factor, view.least), 4000);
    const [x, y] = at ?? [view.x, view.y], kept = view.scale / scale;
    state.view = { ...view, scale, x: x + (view.x - x) * kept, y: y + (view.y - y) * kept };
    soon();
  }

  const fingers = new Map();
  let moved = false;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    moved = false;
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId) || !state.view) return;
    const before = [...fingers.values()], [x, y] = fingers.get(event.pointerId);
    const scale = canvas.width / canvas.getBoundingClientRect().width;
    if (Math.hypot(event.clientX - x, event.clientY - y) > 3) moved = true;
    fingers.set(event.pointerId, [event.clientX, event.clientY]);
    const now = [...fingers.values()], view = state.view;
    if (now.length === 2) zoom(gap(now) / Math.max(gap(before), 1), toBoard({ clientX: (now[0][0] + now[1][0]) / 2, clientY: (now[0][1] + now[1][1]) / 2 }));
    else {
      state.view = { ...view, x: view.x - (event.clientX - x) * scale / view.scale, y: view.y + (event.clientY - y) * scale / view.scale };
      soon();
    }
  });
  const gap = ([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  const lift = (event) => {
    if (fingers.size === 1 && !moved && state.view && event.type === "pointerup") pick(hit(...toBoard(event)), false);
    fingers.delete(event.pointerId);
  };
  canvas.addEventListener("pointerup", lift);
  canvas.addEventListener("pointercancel", lift);
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    if (state.view) zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.0016)), toBoard(event));
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    if (!state.view) return;
    const step = canvas.width / state.view.scale / 8, moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, step], ArrowDown: [0, -step] };
    if (moves[event.key]) {
      state.view = { ...state.view, x: state.view.x + moves[event.key][0], y: state.view.y + moves[event.key][1] };
      soon();
    } else if (event.key === "+" || event.key === "=") zoom(1.4);
    else if (event.key === "-") zoom(1 / 1.4);
    else if (event.key === "0") { fit(); soon(); }
    else if (event.key === "n" || event.key === "p") {
      const at = state.order.indexOf(state.picked) + (event.key === "n" ? 1 : -1);
      if (state.order[at] !== undefined) pick(state.order[at], true);
    } else return;
    event.preventDefault();
  });

  function inside(x, y, k) {
    const { points, starts, ends } = state.shapes.openings;
    let odd = false;
    for (const ring of state.shapes.ringOf[k])
      for (let a = starts[ring], b = ends[ring] - 1; a < ends[ring]; b = a++) {
        const [ax, ay, bx, by] = [points[2 * a], points[2 * a + 1], points[2 * b], points[2 * b + 1]];
        if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) odd = !odd;
      }
    return odd;
  }

  function hit(x, y) {
    const { cell, grid } = state.shapes.grid, { shapes } = state;
    let best = -1, least = 8 / state.view.scale;
    for (let i = -1; i <= 1; i++) for (let j = -1; j <= 1; j++)
      for (const k of grid.get((Math.floor(x / cell) + i) * 100003 + Math.floor(y / cell) + j) ?? []) {
        if (!state.shown[k]) continue;
        if (inside(x, y, k)) return k;
        const far = Math.hypot(shapes.x[k] - x, shapes.y[k] - y) - shapes.width[k] / 2;
        if (far < least) { least = far; best = k; }
      }
    return best;
  }

  // --- words ---

  const digits = (value, count = 3) => (Number.isFinite(value) ? String(Number(value.toPrecision(count))) : "–");
  const percent = (value) => (Number.isFinite(value) ? `${Math.round(100 * value)} %` : "–");
  const sign = { holds: "●", marginal: "◐", fails: "■", "not known": "○" };

  function nameOf(k) {
    const { shapes } = state, part = shapes.part[k] < 0 ? "no part" : shapes.parts[shapes.part[k]];
    return shapes.pins[k] ? `${part}, terminal ${shapes.pins[k]}` : part;
  }

  function pick(k, centre) {
    state.picked = k;
    figures.replaceChildren();
    if (k < 0) {
      figures.append(text("p", "Click an opening, or take one from the table, for its figures."));
      full();
      return keep();
    }
    const { shapes, under } = state, word = under.words[under.code[k]];
    const reasons = under.reasons.filter((r) => r.code[k] > 0).map((r) => `${r.name} ${under.words[r.code[k]]}`);
    figures.append(text("h3", `${nameOf(k)} · opening ${k}`));
    figures.append(text("p", `${sign[word]} ${word} under ${under.um} µm${reasons.length ? ": " + reasons.join(", ") : ""}`));
    const table = document.createElement("dl");
    const add = (name, value) => { table.append(text("dt", name), text("dd", value)); };
    add("size", `${digits(shapes.length[k])} × ${digits(shapes.width[k])} mm, ${digits(shapes.area[k])} mm²`);
    add("at", `${shapes.x[k].toFixed(3)}, ${shapes.y[k].toFixed(3)} mm`);
    const over = under.margin[k] >= 0 ? "above" : "below";
    add("area ratio", `${under.ratio[k].toFixed(2)}, ${percent(Math.abs(under.margin[k]))} ${over} the least that holds`);
    add("aspect ratio", digits(under.aspect[k]));
    add("paste transfer", `${percent(under.transfer[k])} (${percent(under.low[k])}…${percent(under.high[k])})`);
    add("paste", `${digits(under.paste[k])} nL, ${digits(under.solder[k])} nL of it solder`);
    add("of the land's full print", percent(under.share[k]));
    add("gap to the next opening", Number.isFinite(under.gap[k]) ? `${under.gap[k].toFixed(3)} mm` : "none near");
    const rare = (share) => (share < 1e-9 ? "below 1e-9" : digits(share, 2));
    add("starved prints expected", rare(under.starved[k]));
    add("touching prints expected", rare(under.touching[k]));
    if (shapes.changes[k]) add("corrected layer", shapes.changes[k]);
    figures.append(table);
    if (centre) {
      state.view = { ...state.view, x: shapes.x[k], y: shapes.y[k], scale: Math.max(state.view.scale, Math.min(canvas.width / (shapes.length[k] * 14), 400)) };
    }
    full();
    for (const button of rows.querySelectorAll("button")) button.setAttribute("aria-pressed", String(Number(button.value) === k));
    keep();
  }

  function text(kind, content) {
    const made = document.createElement(kind);
    made.textContent = content;
    return made;
  }

  const MOST_ROWS = 60;
  function list() {
    const { shapes, under } = state;
    rows.replaceChildren();
    for (const k of state.order.slice(0, MOST_ROWS)) {
      const row = document.createElement("tr"), button = document.createElement("button"), word = under.words[under.code[k]];
      button.type = "button";
      button.value = String(k);
      button.textContent = nameOf(k);
      button.addEventListener("click", () => { pick(k, true); canvas.scrollIntoView({ block: "nearest" }); });
      const first = document.createElement("th");
      first.scope = "row";
      first.append(button);
      row.append(first, text("td", `${sign[word]} ${word}`), text("td", under.ratio[k].toFixed(2)), text("td", percent(under.transfer[k])),
        text("td", `${digits(shapes.length[k])} × ${digits(shapes.width[k])}`));
      rows.append(row);
    }
    find("count").textContent = state.order.length > MOST_ROWS
      ? `the ${MOST_ROWS} least of ${state.order.length} openings that pass the filter`
      : `${state.order.length} of ${shapes.x.length} openings pass the filter`;
  }

  function summarise() {
    const side = told.sides[state.side], row = side.foils.find((one) => one.um === state.foil);
    const best = row.um === side.best ? ", the foil that serves best" : `; ${side.best} µm serves best`;
    says.textContent = `${side.side}, ${row.um} µm${best}: ${row.holds} hold, ${row.marginal} marginal, ${row.fails} fail; ` +
      `least area ratio ${row.ratio}; defects expected on a board ${row.defects}`;
    slider.setAttribute("aria-valuetext", `${row.um} micrometres`);
    find("foil-now").textContent = `${row.um} µm`;
    canvas.setAttribute("aria-label", `Board seen from the top. ${says.textContent}`);
    for (const line of page.querySelectorAll("[data-foil]"))
      line.classList.toggle("now", line.dataset.side === side.side && Number(line.dataset.foil) === state.foil);
  }

  // --- the address holds the state ---

  function keep() {
    const at = new URLSearchParams(page.dataset.options);
    at.set("side", told.sides[state.side].side);
    at.set("foil", state.foil);
    const off = [...form.querySelectorAll("[name=verdict]:not(:checked)")].map((box) => box.value);
    if (off.length) at.set("without", off.join(","));
    for (const name of ["part", "least", "most"]) if (form.elements[name].value) at.set(name, form.elements[name].value);
    if (form.elements.after.checked) at.set("after", "1");
    if (state.picked >= 0) at.set("opening", state.picked);
    history.replaceState(null, "", `${location.pathname}?${at}`);
  }

  async function restore() {
    const at = new URLSearchParams(location.search);
    const side = Math.max(0, told.sides.findIndex((one) => one.side === at.get("side")));
    for (const radio of form.querySelectorAll("[name=side]")) radio.checked = radio.value === told.sides[side].side;
    const foil = told.foils.indexOf(Number(at.get("foil")));
    slider.value = foil >= 0 ? foil : told.foils.indexOf(told.sides[side].best);
    const off = (at.get("without") ?? "").split(",");
    for (const box of form.querySelectorAll("[name=verdict]")) box.checked = !off.includes(box.value);
    for (const name of ["part", "least", "most"]) form.elements[name].value = at.get(name) ?? "";
    form.elements.after.checked = at.get("after") === "1";
    const opening = Number(at.get("opening") ?? -1);
    await turn(side);
    if (opening >= 0 && opening < state.shapes.x.length) pick(opening, true);
  }

  const guarded = (work) => (...args) => Promise.resolve(work(...args)).catch((error) => { message.textContent = error.message; });
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("input", guarded(async (event) => {
    message.textContent = "";
    if (event.target.name === "side") await turn(told.sides.findIndex((one) => one.side === event.target.value));
    else if (event.target.name === "foil") await lay(told.foils[slider.value]);
    else if (event.target.name === "after") { full(); keep(); }
    else { sift(); keep(); }
  }));
  for (const [name, work] of [["closer", () => zoom(1.4)], ["away", () => zoom(1 / 1.4)], ["fit", () => { fit(); soon(); }]])
    find(name).addEventListener("click", work);
  for (const button of page.querySelectorAll("[data-goto]"))
    button.addEventListener("click", guarded(async () => {
      const [side, opening] = button.dataset.goto.split(" ");
      const at = told.sides.findIndex((one) => one.side === side);
      if (at !== state.side) {
        for (const radio of form.querySelectorAll("[name=side]")) radio.checked = radio.value === side;
        await turn(at);
      }
      pick(Number(opening), true);
      canvas.focus();
    }));
  new ResizeObserver(() => full()).observe(canvas);
  dark.addEventListener("change", () => full());
  new MutationObserver(() => full()).observe(document.documentElement, { attributes: true, attributeFilter: ["data-look"] });
  await guarded(restore)();
  page.dataset.ready = "yes";
}
