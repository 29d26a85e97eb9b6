// A part on its lands in three dimensions. All geometry comes from the server; this lights it, turns it and cuts it.
// Drawn only when something changes: there is no loop that runs by itself.
import * as THREE from "./three-0.184.0/three.module.min.js";

const looks = new Map(); // name of the option to its open look
const still = () => matchMedia("(prefers-reduced-motion: reduce)").matches;
const START = { turn: -0.62, tilt: 0.47 }, CUT = { turn: -0.12, tilt: 0.15 };
const FIELD = 11; // degrees: a long lens, near to a drawing's parallels
const CAPS = ["board", "mask", "land", "body", "foil", "paste", "ball", "solder", "terminal"]; // what stands over what in a cut
let known = null; // whether this browser draws in three dimensions

const draws = () => {
  if (known === null) {
    const context = document.createElement("canvas").getContext("webgl2");
    known = Boolean(context);
    context?.getExtension("WEBGL_lose_context")?.loseContext();
  }
  return known;
};

const element = (name, attributes = {}, ...children) => {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...children);
  return made;
};

// Opens the look in a place of the page.
export async function open(place) {
  if (!draws()) {
    place.replaceChildren(element("p", { class: "quiet" }, "This browser draws nothing in three dimensions (no WebGL). The flat drawings show the same part to scale."));
    return;
  }
  const data = await fetched(place);
  looks.get(place.dataset.name)?.close();
  const look = new Look(data, () => {
    looks.delete(look.name);
    const button = element("button", { type: "button" }, "Look at it in three dimensions");
    look.figure.replaceWith(button);
    button.focus();
  });
  look.name = place.dataset.name;
  looks.set(look.name, look);
  place.replaceChildren(look.figure);
  look.begin();
}

// The page shows a new answer: looks that were open go on, turned as they were, with the new figures.
export async function again(page) {
  for (const [name, look] of [...looks]) {
    const place = page.querySelector(`.solid[data-name="${CSS.escape(name)}"]`);
    if (!place) { look.close(true); looks.delete(name); continue; }
    place.replaceChildren(look.figure);
    try { look.show(await fetched(place)); } catch { /* the next answer brings it */ }
  }
}

async function fetched(place) {
  const reply = await fetch(place.dataset.solid, { headers: { accept: "application/json" } });
  if (!reply.ok) throw new Error(reply.statusText);
  return reply.json();
}

class Look {
  constructor(data, closed) {
    this.closed = closed;
    this.view = { ...START, near: 1 };
    this.state = "reflowed";
    this.cut = false;
    this.raised = 0;
    this.frame = 0;
    this.makePage();
    this.makeStage();
    this.show(data);
  }

  // The page's side of it: buttons, the stage, the words.
  makePage() {
    const button = (text, does) => {
      const made = element("button", { type: "button" }, text);
      made.addEventListener("click", does);
      return made;
    };
    this.printed = button("Printed", () => this.setState("printed"));
    this.reflowed = button("Reflowed", () => this.setState("reflowed"));
    this.cutter = button("Cut through a joint", () => this.setCut(!this.cut));
    const home = button("Turn back", () => this.turnTo({ ...(this.cut ? CUT : START), near: 1 }));
    const close = button("Close", () => { this.close(); });
    this.pair = element("div", { class: "pair", role: "group", "aria-label": "State" }, this.printed, this.reflowed);
    this.stage = element("div", { class: "stage", tabindex: "0", role: "img" });
    this.says = element("span");
    this.caption = element("figcaption", {}, this.says, element("span", { class: "quiet" }, " Drag or use the arrow keys to turn it, + and − to come nearer; with Ctrl the wheel does. Lengths are true to each other."));
    this.figure = element("figure", { class: "solid-look" }, element("div", { class: "solid-bar" }, this.pair, this.cutter, home, close), this.stage, this.caption);
  }

  makeStage() {
    const renderer = this.renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, stencil: true, powerPreference: "low-power" });
    renderer.setPixelRatio(Math.min(devicePixelRatio || 1, 2));
    renderer.shadowMap.enabled = true;
    renderer.shadowMap.type = THREE.PCFShadowMap;
    renderer.shadowMap.autoUpdate = false;
    renderer.toneMapping = THREE.NeutralToneMapping;
    renderer.toneMappingExposure = 1.0;
    renderer.localClippingEnabled = true;
    renderer.domElement.setAttribute("aria-hidden", "true");
    renderer.domElement.addEventListener("webglcontextlost", (event) => { event.preventDefault(); this.lost = true; });
    renderer.domElement.addEventListener("webglcontextrestored", () => { this.lost = false; this.light(); this.draw(); });
    this.stage.append(renderer.domElement);
    this.camera = new THREE.PerspectiveCamera(FIELD, 1, 0.01, 100);
    this.camera.up.set(0, 0, 1);
    this.plane = new THREE.Plane(new THREE.Vector3(0, 1, 0), 0);
    this.controls();
    this.sizes = new ResizeObserver(() => this.fit());
    this.sizes.observe(this.stage);
    this.themes = new MutationObserver(() => this.dress());
    this.themes.observe(document.documentElement, { attributes: true, attributeFilter: ["data-look"] });
    this.dark = matchMedia("(prefers-color-scheme: dark)");
    this.redress = () => this.dress();
    this.dark.addEventListener("change", this.redress);
  }

  begin() {
    this.fit();
    this.stage.focus({ preventScroll: true });
    this.figure.scrollIntoView({ block: "nearest", behavior: still() ? "auto" : "smooth" });
  }

  close(quietly = false) {
    cancelAnimationFrame(this.frame);
    this.sizes.disconnect();
    this.themes.disconnect();
    this.dark.removeEventListener("change", this.redress);
    this.clear();
    this.renderer.dispose();
    this.renderer.forceContextLoss();
    if (!quietly) this.closed();
  }

  clear() {
    this.scene?.traverse((one) => { one.geometry?.dispose(); });
    for (const one of Object.values(this.materials ?? {})) { one.map?.dispose(); one.dispose(); }
    this.scene?.environment?.dispose();
  }

  // New figures: the same view of them.
  show(data) {
    this.clear();
    this.data = data;
    this.scene = new THREE.Scene();
    this.lifted = new THREE.Group();
    this.scene.add(this.lifted);
    this.materials = {};
    this.pieces = [];
    this.caps = [];
    this.stage.setAttribute("aria-label", `${data.title}, in three dimensions`);
    this.pair.hidden = !data.says.printed;
    if (!data.says.printed) this.state = "reflowed";
    for (const piece of data.pieces) this.add(piece);
    this.makeCaps();
    this.makeRule();
    this.makeShade();
    this.makeLights();
    this.dress();
    this.setState(this.state, true);
    this.setCut(this.cut, true);
    this.fit();
  }

  add(piece) {
    const shape = new THREE.BufferGeometry();
    shape.setAttribute("position", new THREE.Float32BufferAttribute(piece.points, 3));
    shape.setAttribute("normal", new THREE.Float32BufferAttribute(piece.normals, 3));
    shape.setIndex(piece.faces);
    const count = piece.places.length / 3;
    const places = Array.from({ length: count }, (_, k) => {
      const [x, y, turn] = piece.places.slice(3 * k, 3 * k + 3);
      return new THREE.Matrix4().makeRotationZ(turn * Math.PI / 180).setPosition(x, y, 0);
    });
    const material = this.materials[piece.kind] ??= new THREE.MeshStandardMaterial({ clipShadows: true });
    const make = (look) => {
      const mesh = new THREE.InstancedMesh(shape, look, count);
      places.forEach((place, k) => mesh.setMatrixAt(k, place));
      mesh.frustumCulled = false;
      return mesh;
    };
    const mesh = make(material);
    mesh.castShadow = piece.kind !== "board" && piece.kind !== "mark";
    mesh.receiveShadow = true;
    const parent = piece.lifts ? this.lifted : this.scene;
    parent.add(mesh);
    this.pieces.push({ ...piece, mesh, make, parent });
  }

  // A cut closes every solid: faces away from the eye count up, faces towards it down, and where something is left the
  // plane is filled in.
  makeCaps() {
    const counting = (side, does) => new THREE.MeshBasicMaterial({
      side, depthWrite: false, depthTest: false, colorWrite: false, clippingPlanes: [this.plane],
      stencilWrite: true, stencilFunc: THREE.AlwaysStencilFunc, stencilFail: does, stencilZFail: does, stencilZPass: does,
    });
    const back = counting(THREE.BackSide, THREE.IncrementWrapStencilOp), front = counting(THREE.FrontSide, THREE.DecrementWrapStencilOp);
    const { low, high, hang } = this.data.size;
    const wide = 1.2 * (high[0] - low[0]), tall = 3 * (high[2] - low[2] + hang) + 1;
    CAPS.forEach((kind, order) => {
      const mine = this.pieces.filter((one) => one.kind === kind);
      if (!mine.length) return;
      for (const one of mine) {
        for (const look of [back, front]) {
          const mesh = one.make(look);
          mesh.renderOrder = 10 + 2 * order;
          one.parent.add(mesh);
          this.caps.push({ kind, state: one.state, mesh });
        }
      }
      const look = this.materials[`cap-${kind}`] = new THREE.MeshBasicMaterial({
        side: THREE.DoubleSide, stencilWrite: true, stencilRef: 0, stencilFunc: THREE.NotEqualStencilFunc,
        stencilFail: THREE.ReplaceStencilOp, stencilZFail: THREE.ReplaceStencilOp, stencilZPass: THREE.ReplaceStencilOp,
      });
      const cap = new THREE.Mesh(new THREE.PlaneGeometry(wide, tall), look);
      cap.rotation.x = Math.PI / 2;
      cap.position.y = this.data.size.cut;
      cap.renderOrder = 11 + 2 * order;
      cap.onAfterRender = (renderer) => renderer.clearStencil();
      this.scene.add(cap);
      this.caps.push({ kind, state: mine.every((one) => one.state === mine[0].state) ? mine[0].state : "always", mesh: cap });
    });
    this.plane.constant = -this.data.size.cut;
  }

  // A rule lies on the board before the part: what is long how much.
  makeRule() {
    const { length, label } = this.data.rule, y = this.data.size.rule_y;
    const deep = Math.min(0.12 * length, 0.36 * Math.abs(y - this.data.size.low[1]));
    const parts = 10, group = this.ruleGroup = new THREE.Group();
    this.materials.ink = new THREE.MeshBasicMaterial();
    this.materials.paper = new THREE.MeshBasicMaterial();
    const bar = (x, wide, high, what, z) => {
      const mesh = new THREE.Mesh(new THREE.PlaneGeometry(wide, high), this.materials[what]);
      mesh.position.set(x, y, z);
      group.add(mesh);
    };
    const top = this.maskTop() + 0.002;
    bar(0, length + 0.06 * deep, deep * 1.16, "ink", top);
    for (let k = 0; k < parts; k += 2) bar(-length / 2 + (k + 1.5) * length / parts, length / parts, deep, "paper", top + 0.002);
    const tall = 2.1 * deep, text = this.label(label);
    this.materials.label = new THREE.MeshBasicMaterial({ map: text.map, transparent: true, depthWrite: false });
    const plate = new THREE.Mesh(new THREE.PlaneGeometry(tall * text.ratio, tall), this.materials.label);
    plate.position.set(length / 2 + tall * text.ratio / 2 + 0.6 * deep, y, top);
    group.add(plate);
    group.position.x = -(tall * text.ratio + 0.6 * deep) / 2;
    this.scene.add(group);
  }

  maskTop() {
    const mask = this.data.pieces.find((one) => one.kind === "mask");
    return Math.max(...mask.points.filter((_, k) => k % 3 === 2));
  }

  label(text) {
    const sheet = document.createElement("canvas"), pen = sheet.getContext("2d"), size = 96;
    const font = `600 ${size}px "Landwise Sans", sans-serif`;
    pen.font = font;
    sheet.width = Math.ceil(pen.measureText(text).width) + 8;
    sheet.height = Math.ceil(size * 1.3);
    pen.font = font;
    pen.fillStyle = "#fff"; // the material's colour tints it
    pen.textBaseline = "middle";
    pen.fillText(text, 4, sheet.height / 2);
    const map = new THREE.CanvasTexture(sheet);
    map.colorSpace = THREE.SRGBColorSpace;
    map.anisotropy = 8;
    return { map, ratio: sheet.width / sheet.height };
  }

  // What little light comes under the body: a soft patch on the board.
  makeShade() {
    const [wide, deep] = this.data.size.body, spread = 0.3 * Math.min(wide, deep), sheet = document.createElement("canvas");
    const whole = [wide + 2 * spread, deep + 2 * spread], px = 160 / Math.max(...whole);
    sheet.width = Math.ceil(whole[0] * px);
    sheet.height = Math.ceil(whole[1] * px);
    const pen = sheet.getContext("2d");
    pen.filter = `blur(${(0.3 * spread * px).toFixed(1)}px)`;
    pen.fillRect(spread * px, spread * px, wide * px, deep * px);
    const look = this.materials.shade = new THREE.MeshBasicMaterial({ map: new THREE.CanvasTexture(sheet), transparent: true, depthWrite: false, clippingPlanes: null });
    this.shade = new THREE.Mesh(new THREE.PlaneGeometry(...whole), look);
    this.shade.position.z = this.maskTop() + 0.001;
    this.shade.renderOrder = 1;
    this.scene.add(this.shade);
  }

  makeLights() {
    const { low, high, hang } = this.data.size;
    const reach = this.reach = Math.hypot(high[0] - low[0], high[1] - low[1]) / 2 + hang;
    this.sky = new THREE.HemisphereLight(0xffffff, 0xe8e2d4, 0.5);
    this.sun = new THREE.DirectionalLight(0xfffdf9, 2.3);
    this.sun.position.set(-1.1 * reach, 0.75 * reach, 1.9 * reach);
    this.sun.castShadow = true;
    const shadow = this.sun.shadow;
    const fine = this.stage.clientWidth > 600 ? 2048 : 1024;
    shadow.mapSize.set(fine, fine);
    Object.assign(shadow.camera, { left: -reach, right: reach, top: reach, bottom: -reach, near: 0.1 * reach, far: 5 * reach });
    shadow.radius = 5;
    shadow.bias = -0.0004;
    shadow.normalBias = 0.004 * reach;
    const fill = new THREE.DirectionalLight(0xffffff, 0.7);
    fill.position.set(-0.2 * reach, -2 * reach, 0.7 * reach);
    this.scene.add(this.sky, this.sun, this.sun.target, fill, fill.target);
    this.light();
  }

  // What the metal mirrors: a plain room with two bright panes.
  light() {
    const room = new THREE.Scene();
    const pane = (x, y, z, wide, high, bright) => {
      const look = new THREE.MeshBasicMaterial({ side: THREE.DoubleSide });
      look.color.setScalar(bright);
      const mesh = new THREE.Mesh(new THREE.PlaneGeometry(wide, high), look);
      mesh.position.set(x, y, z);
      mesh.lookAt(0, 0, 0);
      room.add(mesh);
    };
    const walls = new THREE.Mesh(new THREE.BoxGeometry(20, 20, 20), new THREE.MeshBasicMaterial({ side: THREE.BackSide }));
    walls.material.color.setScalar(0.3);
    room.add(walls);
    pane(0, 3, 9, 12, 9, 2.6);
    pane(-9, -4, 3, 8, 9, 2.4);
    pane(8, -7, 2, 4, 9, 1.7);
    pane(0, 0, -9, 18, 18, 0.2);
    const maker = new THREE.PMREMGenerator(this.renderer);
    this.scene.environment = maker.fromScene(room, 0.03, 0.1, 100, { size: 128 }).texture;
    maker.dispose();
  }

  // The look's own colours, light or dark.
  dress() {
    const style = getComputedStyle(document.documentElement);
    const colour = (name) => new THREE.Color(style.getPropertyValue(`--${name}`).trim());
    const mix = (one, other, share) => colour(one).lerp(typeof other === "string" ? colour(other) : other, share);
    const dark = style.colorScheme.trim() === "dark";
    const set = (kind, tint, metalness, roughness, more = {}) => {
      const look = this.materials[kind];
      if (!look) return;
      look.color.copy(tint);
      Object.assign(look, { metalness, roughness, ...more });
      this.materials[`cap-${kind}`]?.color.copy(tint);
    };
    const body = dark ? new THREE.Color("#3b414c") : new THREE.Color("#3a3d44");
    const silicon = dark ? new THREE.Color("#5a6170") : new THREE.Color("#4b515d");
    set("board", dark ? mix("board", "ochre", 0.1).lerp(colour("graphite"), 0.2) : mix("board", "graphite", 0.22).lerp(colour("ochre"), 0.1), 0, 0.9);
    set("mask", dark ? mix("board", "graphite", 0.07) : mix("board", "slate", 0.17), 0, 0.75);
    set("land", dark ? new THREE.Color("#c98a2b") : mix("ochre", "paper", 0.12), 0.55, 0.42, { envMapIntensity: 0.9 });
    set("terminal", new THREE.Color("#cfd3d9"), 0.92, 0.33, { polygonOffset: true, polygonOffsetFactor: -1, polygonOffsetUnits: -2 });
    set("solder", new THREE.Color("#e2e5e9"), 0.9, 0.2);
    set("ball", new THREE.Color("#dadde2"), 0.9, 0.26);
    set("paste", new THREE.Color("#85868b"), 0.1, 0.95);
    set("foil", new THREE.Color("#d3d8df"), 0.6, 0.36);
    if (this.data.silicon) set("body", silicon, 0.35, 0.4); else set("body", body, 0, 0.68);
    set("mark", body.clone().lerp(new THREE.Color("#ffffff"), 0.13), 0, 0.9);
    const caps = { body: (this.data.silicon ? silicon : body).clone().lerp(new THREE.Color("#8a8f99"), 0.22), foil: new THREE.Color("#b3bac4"), paste: new THREE.Color("#77797f"), solder: new THREE.Color("#d3d7dc"), terminal: new THREE.Color("#9aa1ac"), ball: new THREE.Color("#d3d7dc"), land: colour("ochre") };
    for (const [kind, tint] of Object.entries(caps)) this.materials[`cap-${kind}`]?.color.copy(tint);
    this.materials.ink.color.copy(dark ? colour("ink") : colour("ink"));
    this.materials.paper.color.copy(colour("paper"));
    this.materials.label.color.copy(colour("ink"));
    this.materials.shade.opacity = dark ? 0.55 : 0.42;
    this.scene.environmentIntensity = dark ? 0.75 : 0.9;
    this.sky.intensity = dark ? 0.3 : 0.5;
    this.draw();
  }

  setState(state, at_once = false) {
    this.state = state;
    for (const [button, name] of [[this.printed, "printed"], [this.reflowed, "reflowed"]]) {
      button.setAttribute("aria-pressed", String(state === name));
    }
    const hang = state === "printed" ? this.data.size.hang : 0, from = this.raised;
    this.says.textContent = this.data.says[state];
    this.stage.setAttribute("aria-description", this.data.says[state]);
    if (at_once || still() || from === hang) { this.lift(hang); this.swap(); this.draw(true); return; }
    if (state === "printed") this.swap();
    this.move(520, (share) => {
      this.lift(from + (hang - from) * share);
      if (share === 1) this.swap();
      this.shadows = true;
    });
  }

  lift(by) {
    this.raised = by;
    this.lifted.position.z = by;
    this.shade.material.opacity = (this.data.size.hang && by ? 0.5 : 1) * 0.45;
  }

  swap() {
    for (const one of [...this.pieces, ...this.caps]) {
      const there = one.state === "always" || one.state === this.state;
      one.mesh.visible = there && (this.cut || !this.caps.includes(one));
    }
  }

  setCut(cut, at_once = false) {
    this.cut = cut;
    this.cutter.setAttribute("aria-pressed", String(cut));
    for (const one of this.pieces) {
      one.mesh.material.clippingPlanes = cut ? [this.plane] : null;
    }
    for (const name of ["ink", "paper", "label", "shade"]) this.materials[name].clippingPlanes = cut ? [this.plane] : null;
    this.swap();
    if (at_once) this.draw(true);
    else this.turnTo({ ...(cut ? CUT : START), near: 1 });
  }

  // Movement: eased, over in half a second, none for who wants none.
  move(lasts, step) {
    cancelAnimationFrame(this.moving);
    const began = performance.now();
    const tick = (now) => {
      const share = Math.min(1, Math.max(0, (now - began) / lasts)), eased = share * share * (3 - 2 * share);
      step(share === 1 ? 1 : eased);
      this.paint();
      if (share < 1) this.moving = requestAnimationFrame(tick);
    };
    this.moving = requestAnimationFrame(tick);
  }

  turnTo(view) {
    const from = { ...this.view };
    if (still()) { this.view = { ...view }; this.draw(true); return; }
    this.shadows = true;
    this.move(480, (share) => {
      for (const key of Object.keys(view)) this.view[key] = from[key] + (view[key] - from[key]) * share;
    });
  }

  turn(across, up) {
    this.view.turn += across;
    this.view.tilt = Math.min(1.5, Math.max(-0.25, this.view.tilt + up));
    this.draw();
  }

  near(by) {
    this.view.near = Math.min(8, Math.max(0.6, this.view.near * by));
    this.draw();
  }

  controls() {
    const stage = this.stage, held = new Map();
    let apart = 0;
    stage.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey) return;
      const does = {
        ArrowLeft: () => this.turn(-0.12, 0), ArrowRight: () => this.turn(0.12, 0),
        ArrowUp: () => this.turn(0, 0.09), ArrowDown: () => this.turn(0, -0.09),
        "+": () => this.near(1.12), "=": () => this.near(1.12), "-": () => this.near(1 / 1.12),
        Home: () => this.turnTo({ ...(this.cut ? CUT : START), near: 1 }),
      }[event.key];
      if (!does) return;
      event.preventDefault();
      does();
    });
    stage.addEventListener("pointerdown", (event) => {
      stage.setPointerCapture(event.pointerId);
      held.set(event.pointerId, [event.clientX, event.clientY]);
      apart = 0;
      cancelAnimationFrame(this.moving);
    });
    stage.addEventListener("pointermove", (event) => {
      const before = held.get(event.pointerId);
      if (!before) return;
      held.set(event.pointerId, [event.clientX, event.clientY]);
      if (held.size === 1) {
        this.turn(-(event.clientX - before[0]) * 0.008, (event.clientY - before[1]) * 0.006);
      } else if (held.size === 2) {
        const [one, other] = [...held.values()], now = Math.hypot(one[0] - other[0], one[1] - other[1]);
        if (apart) this.near(now / apart);
        apart = now;
      }
    });
    for (const end of ["pointerup", "pointercancel"]) stage.addEventListener(end, (event) => held.delete(event.pointerId));
    stage.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return; // the page scrolls
      event.preventDefault();
      this.near(Math.exp(-event.deltaY * 0.002));
    }, { passive: false });
  }

  fit() {
    const wide = this.stage.clientWidth, high = this.stage.clientHeight;
    if (!wide || !high) return;
    this.renderer.setSize(wide, high, false);
    this.camera.aspect = wide / high;
    this.draw();
  }

  draw(shadows = false) {
    this.shadows ||= shadows;
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(() => this.paint());
  }

  paint() {
    if (this.lost || !this.scene || !this.stage.clientWidth) return;
    const { turn, tilt, near } = this.view;
    const { middle, distance } = this.framed(turn, tilt);
    this.camera.position.copy(middle).addScaledVector(towards(turn, tilt), distance / near);
    this.camera.near = Math.max(0.02 * distance, distance / near - 3 * this.reach);
    this.camera.far = distance / near + 3 * this.reach;
    this.camera.lookAt(middle);
    this.camera.updateProjectionMatrix();
    if (this.shadows) this.renderer.shadowMap.needsUpdate = true;
    this.shadows = false;
    this.renderer.render(this.scene, this.camera);
    this.stage.dataset.painted = String(1 + Number(this.stage.dataset.painted || 0));
  }

  // What the camera looks at and from how far: near enough to fill the stage, far enough whichever way it is turned.
  framed(turn, tilt) {
    const { low, high, hang, cut } = this.data.size, middle = new THREE.Vector3(0, (low[1] + high[1]) / 2, 0);
    const corners = [];
    const front = this.cut ? cut : low[1], floor = this.cut ? -0.25 * high[2] : low[2];
    for (const x of [low[0], high[0]]) for (const y of [front, this.cut ? cut : high[1]]) {
      for (const z of [floor, 0]) corners.push(new THREE.Vector3(x, y, z));
    }
    const [wide, deep] = this.data.size.body, top = high[2] + (this.state === "printed" ? hang : this.cut ? 0 : 0.15 * hang);
    for (const x of [-wide / 2, wide / 2]) for (const y of this.cut ? [cut] : [-deep / 2, deep / 2]) corners.push(new THREE.Vector3(x, y, top));
    const key = [this.cut, top, this.camera.aspect, tilt > 1].join();
    if (this.fitted !== key) {
      // Once for all turns, so that it keeps its size while it is turned.
      this.fitted = key;
      const turns = this.cut ? [CUT.turn] : [START.turn, 0, 1.57, START.turn + 1.57];
      this.far = Math.max(...turns.map((one) => this.fitting(corners, middle, one, this.cut ? CUT.tilt : START.tilt).distance));
    }
    return { middle: this.fitting(corners, middle, turn, tilt, this.far).middle, distance: this.far };
  }

  // Distance and middle at which the corners just stand inside the stage, by a few steps.
  fitting(corners, start, turn, tilt, fixed) {
    const away = towards(turn, tilt), middle = start.clone(), eye = this.camera;
    const half = Math.tan(FIELD * Math.PI / 360);
    const side = new THREE.Vector3(Math.cos(turn), Math.sin(turn), 0), up = new THREE.Vector3().crossVectors(away, side);
    let distance = fixed ?? 6 * this.reach;
    for (let step = 0; step < 5; step += 1) {
      let [left, right, under, over] = [Infinity, -Infinity, Infinity, -Infinity];
      for (const corner of corners) {
        const from = corner.clone().sub(middle), depth = distance - from.dot(away);
        const x = from.dot(side) / depth, y = from.dot(up) / depth;
        [left, right, under, over] = [Math.min(left, x), Math.max(right, x), Math.min(under, y), Math.max(over, y)];
      }
      middle.addScaledVector(side, distance * (left + right) / 2).addScaledVector(up, distance * (under + over) / 2);
      if (fixed === undefined) distance *= Math.max((right - left) / 2 / eye.aspect, (over - under) / 2) / half * 1.06;
    }
    return { middle, distance };
  }
}

// The direction from what is looked at to the eye.
function towards(turn, tilt) {
  return new THREE.Vector3(Math.sin(turn) * Math.cos(tilt), -Math.cos(turn) * Math.cos(tilt), Math.sin(tilt));
}
