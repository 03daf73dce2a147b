// The page: what is shown, from where, and what is told about it.

const job = JSON.parse(document.getElementById("data").textContent);
const byId = (name) => document.getElementById(name);
const canvas = byId("scene");
const still = window.matchMedia("(prefers-reduced-motion: reduce)");
const FIELD = 0.42; // rad, from top to bottom
const hidden = new Set();
let mode = job.modes[0], apart = 0, told = null, drawing = null, waiting = false, moving = 0;
let eye = { turn: 0, tip: 0, away: 1, x: 0, y: 0, z: 0 };

function say(text) {
  byId("said").textContent = text;
}

function element(name, text, more) {
  const made = document.createElement(name);
  if (text !== undefined) made.textContent = text;
  return Object.assign(made, more || {});
}

// ---------------------------------------------------------------- camera

// What stands over the view, above and below what is left for the job.
function free() {
  const box = canvas.getBoundingClientRect(), tall = canvas.clientHeight || 1;
  const above = Math.max(0, byId("top").getBoundingClientRect().bottom - box.top);
  const below = Math.max(0, box.bottom - byId("hand").getBoundingClientRect().top);
  const left = tall - above - below;
  return left > 0.3 * tall ? { share: left / tall, shift: (below - above) / tall } : { share: 1, shift: 0 };
}

function home() {
  const low = mode.box[0].slice(), high = mode.box[1].slice();
  const steps = mode.items.map((item) => item.step * mode.apart * apart);
  low[2] += Math.min(0, ...steps);
  high[2] += Math.max(0, ...steps);
  const half = [0, 1, 2].map((k) => (high[k] - low[k]) / 2);
  const wide = canvas.clientWidth || 1, tall = canvas.clientHeight || 1;
  const turn = mode.turn, tip = mode.tip;
  const across = Math.abs(half[0] * Math.sin(turn)) + Math.abs(half[1] * Math.cos(turn));
  const deep = Math.abs(half[0] * Math.cos(turn)) + Math.abs(half[1] * Math.sin(turn));
  const up = deep * Math.sin(tip) + half[2] * Math.cos(tip);
  const t = Math.tan(FIELD / 2), rim = 1.04;
  const away = Math.max(across * rim / (t * wide / tall), up * rim / (t * free().share)) + deep * Math.cos(tip);
  return {
    turn, tip, away,
    x: (low[0] + high[0]) / 2, y: (low[1] + high[1]) / 2, z: (low[2] + high[2]) / 2,
  };
}

function matrices() {
  const { turn, tip } = eye;
  const back = [Math.cos(tip) * Math.cos(turn), Math.cos(tip) * Math.sin(turn), Math.sin(tip)];
  const right = [-Math.sin(turn), Math.cos(turn), 0];
  const up = [
    back[1] * right[2] - back[2] * right[1], back[2] * right[0] - back[0] * right[2], back[0] * right[1] - back[1] * right[0],
  ];
  const from = [eye.x + eye.away * back[0], eye.y + eye.away * back[1], eye.z + eye.away * back[2]];
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const view = new Float32Array([
    right[0], up[0], back[0], 0, right[1], up[1], back[1], 0, right[2], up[2], back[2], 0,
    -dot(right, from), -dot(up, from), -dot(back, from), 1,
  ]);
  const near = Math.max(eye.away * 0.02, 0.5), far = eye.away * 4 + 1200, t = 1 / Math.tan(FIELD / 2);
  const shape = canvas.width / canvas.height;
  const lens = new Float32Array([
    t / shape, 0, 0, 0, 0, t, 0, 0, 0, -free().shift, (far + near) / (near - far), -1, 0, 0, 2 * far * near / (near - far), 0,
  ]);
  return { view, lens, right, up };
}

function bounded(next) {
  const size = Math.hypot(...[0, 1, 2].map((k) => mode.box[1][k] - mode.box[0][k]));
  next.tip = Math.min(Math.PI / 2, Math.max(-Math.PI / 2, next.tip));
  next.away = Math.min(size * 8, Math.max(size * 0.06, next.away));
  return next;
}

function go(next, slowly) {
  bounded(next);
  moving += 1;
  const own = moving, from = { ...eye }, began = performance.now();
  if (!slowly || still.matches) {
    eye = next;
    ask();
    return;
  }
  const step = (now) => {
    if (own !== moving) return;
    const part = Math.min(1, (now - began) / 180), soft = part * (2 - part);
    for (const key of Object.keys(next)) eye[key] = from[key] + soft * (next[key] - from[key]);
    ask();
    if (part < 1) requestAnimationFrame(step);
  };
  requestAnimationFrame(step);
}

function slid(dx, dy) {
  const { right, up } = matrices();
  const mm = 2 * eye.away * Math.tan(FIELD / 2) / canvas.clientHeight;
  const next = { ...eye };
  ["x", "y", "z"].forEach((key, k) => { next[key] -= mm * (dx * right[k] - dy * up[k]); });
  return next;
}

const MOVES = {
  left: () => ({ ...eye, turn: eye.turn - 0.26 }),
  right: () => ({ ...eye, turn: eye.turn + 0.26 }),
  up: () => ({ ...eye, tip: eye.tip + 0.2 }),
  down: () => ({ ...eye, tip: eye.tip - 0.2 }),
  nearer: () => ({ ...eye, away: eye.away / 1.25 }),
  further: () => ({ ...eye, away: eye.away * 1.25 }),
  back: home,
};

// ---------------------------------------------------------------- drawing

function itemsNow() {
  return mode.items.map((item) => {
    const move = item.move.slice();
    move[11] += item.step * mode.apart * apart;
    const shown = !hidden.has(item.layer), lit = told !== null && item.told === told;
    return { ...item, move, lit, drawn: shown && (!item.ghost || lit), asked: shown && item.told !== null };
  });
}

function paint() {
  waiting = false;
  if (!drawing) return;
  const ratio = Math.min(window.devicePixelRatio || 1, 2);
  const wide = Math.max(1, Math.round(canvas.clientWidth * ratio)), tall = Math.max(1, Math.round(canvas.clientHeight * ratio));
  if (canvas.width !== wide || canvas.height !== tall) {
    canvas.width = wide;
    canvas.height = tall;
  }
  const { view, lens } = matrices();
  drawing.draw(view, lens, itemsNow());
  place(view, lens);
}

// Words that stand at places of the scene.
function place(view, lens) {
  const row = (m, v, k) => m[k] * v[0] + m[4 + k] * v[1] + m[8 + k] * v[2] + m[12 + k] * v[3];
  const at = (m, v) => [0, 1, 2, 3].map((k) => row(m, v, k));
  mode.tags.forEach((tag, k) => {
    const c = at(lens, at(view, [...tag.at, 1])), made = byId("tags").children[k];
    const x = (c[0] / c[3] + 1) / 2 * canvas.clientWidth, y = (1 - c[1] / c[3]) / 2 * canvas.clientHeight;
    made.hidden = c[3] <= 0;
    made.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px) translate(-50%, -50%)`;
    made.className = told !== null && job.facts[told].short === tag.text ? "lit" : "";
  });
}

function ask() {
  if (waiting) return;
  waiting = true;
  requestAnimationFrame(paint);
}

// ---------------------------------------------------------------- telling

function table(rows) {
  const made = element("dl");
  for (const [name, value] of rows) made.append(element("dt", name), element("dd", value));
  return made;
}

function tell(number, aloud) {
  told = number;
  const box = byId("told");
  box.replaceChildren();
  if (number === null) {
    const fact = job.facts[mode.told];
    box.append(element("h3", fact.title), table(fact.rows));
    box.append(element("p", "Click a part, or take one from the list, for its sizes.", { className: "hint" }));
    if (aloud) say("Nothing chosen.");
  } else {
    const fact = job.facts[number];
    box.append(element("h3", fact.title), table(fact.rows));
    for (const more of fact.more) box.append(element("h4", more.title), table(more.rows));
    const all = [fact, ...fact.more].map((part) => [part.title, ...part.rows.map((row) => row.join(" "))].join(", "));
    if (aloud) say(`${all.join(". ")}.`);
  }
  for (const button of byId("list").querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(Number(button.dataset.told) === number && number !== null));
  }
  ask();
}

function list() {
  const box = byId("list"), seen = [...new Set(mode.items.map((item) => item.told))].filter((k) => k !== null);
  box.replaceChildren(...seen.map((number) => {
    const row = element("li"), button = element("button", job.facts[number].short, { type: "button" });
    button.dataset.told = number;
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", () => tell(told === number ? null : number, true));
    row.append(button);
    return row;
  }));
}

function layers() {
  const box = byId("layers"), legend = box.querySelector("legend");
  const names = [...new Set(mode.items.filter((item) => !item.ghost).map((item) => item.layer))].filter((name) => name);
  box.replaceChildren(legend, ...names.map((name) => {
    const label = element("label"), chip = element("span", undefined, { className: "chip" });
    const input = element("input", undefined, { type: "checkbox", checked: !hidden.has(name), name: "layer", value: name });
    chip.style.background = job.pieces[mode.items.find((item) => item.layer === name && !item.ghost).piece].color;
    input.addEventListener("change", () => {
      if (input.checked) hidden.delete(name); else hidden.add(name);
      say(`${name} ${input.checked ? "shown" : "hidden"}.`);
      ask();
    });
    label.append(input, chip, element("span", name));
    return label;
  }));
}

function show(next, aloud) {
  mode = next;
  byId("apart-card").hidden = !mode.apart;
  byId("which").hidden = job.patterns.length < 2 || !mode.pattern;
  byId("tags").replaceChildren(...mode.tags.map((tag) => element("span", tag.text)));
  list();
  layers();
  tell(null, false);
  go(home(), false);
  const whose = byId("which").hidden ? "" : `, ${job.patterns.find((each) => each.id === mode.pattern).name}`;
  if (aloud) say(`${mode.name}${whose}. ${mode.note}`);
}

// The way to show the job that was chosen, of the pattern that was chosen.
function pick(id, pattern) {
  return job.modes.find((each) => each.id === id && (!each.pattern || each.pattern === pattern));
}

function modes() {
  const box = byId("modes"), choice = byId("patterns");
  for (const each of job.modes) {
    if ([...box.querySelectorAll("input")].some((input) => input.value === each.id)) continue;
    const label = element("label"), input = element("input", undefined, { type: "radio", name: "mode", value: each.id, checked: each.id === mode.id });
    input.addEventListener("change", () => show(pick(each.id, choice.value), true));
    label.append(input, element("span", each.name));
    box.append(label);
  }
  choice.append(...job.patterns.map((each) => element("option", each.name, { value: each.id })));
  choice.addEventListener("change", () => show(pick(mode.id, choice.value), true));
}

// ---------------------------------------------------------------- hands

function pointers() {
  const down = new Map();
  let spread = 0, middle = null, wandered = 0, slides = false;
  const gather = () => {
    const [a, b] = [...down.values()];
    spread = Math.hypot(a.x - b.x, a.y - b.y);
    middle = { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 };
  };
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (down.size === 1) {
      wandered = 0;
      slides = event.button !== 0 || event.shiftKey;
    } else if (down.size === 2) {
      wandered = 99;
      gather();
    }
  });
  canvas.addEventListener("pointermove", (event) => {
    const was = down.get(event.pointerId);
    if (!was) return;
    const dx = event.clientX - was.x, dy = event.clientY - was.y;
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    wandered += Math.abs(dx) + Math.abs(dy);
    if (down.size === 2) {
      const before = spread, at = middle;
      gather();
      const next = slid(middle.x - at.x, middle.y - at.y);
      next.away *= before / Math.max(spread, 1);
      go(next, false);
    } else if (down.size === 1 && wandered > 3) {
      go(slides ? slid(dx, dy) : { ...eye, turn: eye.turn - dx * 0.008, tip: eye.tip + dy * 0.008 }, false);
    }
  });
  const up = (event) => {
    if (!down.delete(event.pointerId) || down.size || event.type === "pointercancel" || wandered > 3 || event.button !== 0) return;
    const box = canvas.getBoundingClientRect(), { view, lens } = matrices();
    const x = (event.clientX - box.left) / box.width * canvas.width, y = (event.clientY - box.top) / box.height * canvas.height;
    const hit = drawing.ask(view, lens, itemsNow(), x, y);
    tell(hit ? hit.told : null, true);
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    go({ ...eye, away: eye.away * Math.exp(Math.sign(event.deltaY) * Math.min(Math.abs(event.deltaY), 120) * 0.0012) }, false);
  }, { passive: false });
}

function keys() {
  const turns = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" };
  const slides = { ArrowLeft: [-30, 0], ArrowRight: [30, 0], ArrowUp: [0, -30], ArrowDown: [0, 30] };
  const others = { "+": "nearer", "=": "nearer", "-": "further", "0": "back", Home: "back" };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Escape") { tell(null, true); return; }
    const next = event.shiftKey && slides[event.key] ? slid(...slides[event.key])
      : turns[event.key] ? MOVES[turns[event.key]]()
      : others[event.key] ? MOVES[others[event.key]]() : null;
    if (!next) return;
    event.preventDefault();
    go(next, true);
  });
  byId("hand").addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    go(MOVES[button.dataset.do](), true);
    if (button.dataset.do === "back") say("View put back.");
  });
  byId("apart").addEventListener("input", (event) => {
    apart = Number(event.target.value) / 100;
    event.target.setAttribute("aria-valuetext", apart ? `${event.target.value} percent apart` : "together");
    const next = home();
    go({ ...eye, away: next.away, x: next.x, y: next.y, z: next.z }, false);
  });
}

function begin() {
  modes();
  show(mode, false);
  keys();
  try {
    drawing = new Drawing(canvas, job.pieces);
  } catch (fault) {
    canvas.hidden = true;
    byId("hand").hidden = true;
    byId("apart-card").hidden = true;
    byId("layers").hidden = true;
    byId("tags").hidden = true;
    byId("instead").hidden = false;
    return;
  }
  pointers();
  canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());
  canvas.addEventListener("webglcontextrestored", () => {
    drawing = new Drawing(canvas, job.pieces);
    ask();
  });
  let sized = false;
  new ResizeObserver(() => {
    if (!sized) go(home(), false);
    sized = true;
    ask();
  }).observe(canvas);
}

begin();
