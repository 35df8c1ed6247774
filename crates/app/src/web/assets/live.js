// Newer words and points into a page, and what a person says back, over one WebSocket.
//
// Events on `document`:
//   scene   detail { record, scene, kept, deeds, pace, hazards }: what is so now
//   points  detail { first, count, t_s, kv, ua, conductor, application, flags }: points from `first`
//           on; they take the place of those held there
//   refill  detail { epoch, all }: forget every point, all of them follow
//   answer  detail { nonce, line, kept } or { nonce, line, refused, unknown }
//   swapped <main> is another one
// `say(line, { startedAt })` says a line; `startedAt` is `Date.now()` at its first digit or key.

// Whoever draws points listens before the first of them comes.
import "./chart.js";

const SILENT_MS = 2000;
const FIRST_WAIT_MS = 100;
const LONGEST_WAIT_MS = 1000;
const POINT_BYTES = 24;

const root = document.documentElement;
const main = () => document.getElementById("main");
const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));

let socket;
let wait = FIRST_WAIT_MS;
const now = () => ({ steady: performance.now(), wall: Date.now() });
// When the link was opened, when anything was heard, and when it was all that this page shows.
let opened = now();
let heard = opened;
let told = opened;
// Voltage is on, or what it left, by the last scene.
let staged;
let leaving = false;
// The points that are held: of which holding, how many, and up to which change of them.
const held = { epoch: "", from: 0, revision: 0 };
let loop;
let followed;
let deeds;
// Lines without an answer, in their order.
const unanswered = new Map();

const wantsPoints = () => document.querySelector("[data-chart]") !== null;

function connect() {
  const record = main()?.dataset.record ?? "";
  followed = { record, points: wantsPoints() };
  const address = new URL("/live", location.href);
  address.protocol = location.protocol === "https:" ? "wss:" : "ws:";
  if (record) {
    address.searchParams.set("record", record);
    if (!followed.points) address.searchParams.set("points", "no");
    else if (held.epoch) {
      for (const [name, value] of Object.entries(held)) address.searchParams.set(name, value);
    }
  }
  opened = now();
  const mine = new WebSocket(address);
  mine.binaryType = "arraybuffer";
  socket = mine;
  mine.onmessage = (message) => {
    if (socket !== mine) return;
    heard = now();
    wait = FIRST_WAIT_MS;
    if (typeof message.data === "string") take(JSON.parse(message.data));
    else takePoints(message.data);
  };
  mine.onclose = () => {
    if (socket !== mine || leaving) return;
    socket = undefined;
    setTimeout(() => {
      if (!socket) connect();
    }, wait);
    wait = Math.min(wait * 2, LONGEST_WAIT_MS);
  };
}

function reconnect() {
  const old = socket;
  socket = undefined;
  old?.close();
  wait = FIRST_WAIT_MS;
  connect();
}

// A machine that slept may have stopped the one clock, and somebody may set the other.
const silence = (since) => Math.max(performance.now() - since.steady, Date.now() - since.wall);

function look() {
  if (leaving) return;
  if (silence(told) >= SILENT_MS && root.dataset.link !== "lost") lost();
  // A link that is silent and not closed never will be.
  if (socket && Math.min(silence(heard), silence(opened)) >= SILENT_MS) reconnect();
}

function lost() {
  root.dataset.link = "lost";
  const line = document.createElement("div");
  line.id = "link-lost";
  line.setAttribute("role", "alert");
  const word = document.createElement("strong");
  word.textContent = "▲ HAZARDOUS, LINK LOST";
  const what = document.createElement("span");
  what.textContent =
    " Read the set's own needles; write every value with its time on the job sheet. " +
    "What stands below is old.";
  line.append(word, what);
  document.getElementById("link-lost")?.remove();
  document.body.prepend(line);
  tell("link", { lost: true });
}

function linked() {
  root.dataset.link = "ok";
  document.getElementById("link-lost")?.remove();
  tell("link", { lost: false });
}

function take(message) {
  if (message.answer) return answered(message.answer);
  if (message.epoch !== undefined) return held_by(message);
  staged = message.scene?.stage ?? staged ?? main()?.dataset.stage === "true";
  // A stage without its scene is old, whatever else is heard.
  if (message.scene || !staged) {
    told = now();
    if (root.dataset.link !== "ok") linked();
  }
  hazards(message.hazards ?? []);
  if (!message.scene) return;
  if (followed?.points) held.revision = message.revision;
  words(message.scene);
  tell("scene", message);
  follow(message);
}

// Points of another holding: all of them come anew, and lines without an answer may be lost.
function held_by({ epoch, from, all }) {
  const [begun] = epoch.split("-");
  const same = loop === undefined || loop === begun;
  loop = begun;
  if (held.epoch !== epoch || from === 0) {
    Object.assign(held, { epoch, from: 0, revision: 0 });
    tell("refill", { epoch, all });
  }
  for (const [nonce, one] of [...unanswered]) {
    // What never left this page cannot stand in the record yet.
    if (same || !one.sent) send(nonce, one);
    else {
      unanswered.delete(nonce);
      one.settle({ nonce, line: one.line, unknown: true, refused: NOT_ACKNOWLEDGED });
    }
  }
}

const NOT_ACKNOWLEDGED =
  "Not acknowledged: look whether it stands in the list, then say it again.";

function takePoints(bytes) {
  const view = new DataView(bytes);
  const first = view.getUint32(0, true);
  const count = view.getUint32(4, true);
  const points = {
    first,
    count,
    t_s: new Float64Array(count),
    kv: new Float32Array(count),
    ua: new Float32Array(count),
    conductor: new Uint16Array(count),
    application: new Uint16Array(count),
    flags: new Uint32Array(count),
  };
  for (let at = 0, byte = 8; at < count; at += 1, byte += POINT_BYTES) {
    points.t_s[at] = view.getFloat64(byte, true);
    points.kv[at] = view.getFloat32(byte + 8, true);
    points.ua[at] = view.getFloat32(byte + 12, true);
    points.conductor[at] = view.getUint16(byte + 16, true);
    points.application[at] = view.getUint16(byte + 18, true);
    points.flags[at] = view.getUint32(byte + 20, true);
  }
  held.from = Math.max(held.from, first + count);
  tell("points", points);
}

// The value at a path such as `reading_in.left`; nothing where there is none.
const at = (scene, path) => path.split(".").reduce((value, key) => value?.[key], scene);

// `data-live="kilovolts"`: the text. `data-live-set="data-lies=expected.lies hidden=!trip"`:
// attributes, taken away where there is nothing; `!` turns it round.
function words(scene) {
  for (const element of document.querySelectorAll("[data-live]")) {
    const text = String(at(scene, element.dataset.live) ?? "");
    if (element.textContent !== text) element.textContent = text;
  }
  for (const element of document.querySelectorAll("[data-live-set]")) {
    for (const pair of element.dataset.liveSet.split(" ")) {
      const [name, path] = pair.split("=");
      const turned = path.startsWith("!");
      let value = at(scene, turned ? path.slice(1) : path);
      if (turned) value = !value;
      const gone = value === undefined || value === null || value === false;
      if (gone) element.removeAttribute(name);
      else if (element.getAttribute(name) !== String(value)) {
        element.setAttribute(name, value === true ? "" : String(value));
      }
    }
  }
}

let hazardsShown = "";

// The same markup as the page came with.
function hazards(all) {
  const region = document.getElementById("hazards");
  if (!region) return;
  const which = JSON.stringify(all.map((one) => [one.record, one.asset, one.conductor]));
  const lines = region.children;
  if (which !== hazardsShown || lines.length !== all.length) {
    hazardsShown = which;
    region.toggleAttribute("data-any", all.length > 0);
    region.replaceChildren(...all.map(hazard));
    return;
  }
  all.forEach((one, index) => {
    const said = lines[index].lastElementChild;
    if (said.textContent !== one.said) said.textContent = one.said;
  });
}

function hazard(one) {
  const make = (name, text) => Object.assign(document.createElement(name), { textContent: text });
  const shape = make("span", "▲");
  shape.className = "shape";
  shape.setAttribute("aria-hidden", "true");
  const link = make("a", `${one.asset} · ${one.conductor}`);
  link.href = `/sheet/${one.record}`;
  const line = document.createElement("p");
  line.className = "hazard";
  line.append(shape, make("strong", "HAZARDOUS"), " ", link, " ", make("span", one.said));
  return line;
}

// The page is another one when voltage comes or goes, or something was done that it shows.
function follow({ scene, deeds: now }) {
  const data = main()?.dataset;
  if (!data || data.section === undefined) return;
  const stage = data.stage === "true";
  const before = deeds ?? Number(data.deeds ?? now);
  deeds = now;
  const other = stage !== scene.stage || data.section !== scene.section;
  if (other || (!scene.stage && before !== now)) swap();
}

let swapping;

function swap() {
  if (swapping) {
    swapping.again = true;
    return;
  }
  const mine = { again: false };
  swapping = mine;
  fetch(location.href, { headers: { accept: "text/html" } })
    .then((answer) => (answer.ok ? answer.text() : Promise.reject(answer.status)))
    .then((text) => put(new DOMParser().parseFromString(text, "text/html")))
    .catch(() => {
      // The next words ask again.
      deeds = undefined;
    })
    .finally(() => {
      setTimeout(() => {
        swapping = undefined;
        if (mine.again) swap();
      }, 250);
    });
}

const name = (field) => field.id || field.name;

function put(page) {
  const [old, fresh] = [main(), page.getElementById("main")];
  if (!fresh || !old) return;
  const typed = new Map();
  for (const field of old.querySelectorAll("input, textarea, select")) {
    const changed =
      field.type === "checkbox" || field.type === "radio"
        ? field.checked !== field.defaultChecked
        : field.tagName === "SELECT" || field.value !== field.defaultValue;
    if (name(field) && changed) typed.set(name(field), field);
  }
  const open = new Set([...old.querySelectorAll("details[open][id]")].map((one) => one.id));
  const active = old.contains(document.activeElement) ? document.activeElement : undefined;
  const turned = old.dataset.stage !== fresh.dataset.stage;
  const adopted = document.adoptNode(fresh);
  for (const field of adopted.querySelectorAll("input, textarea, select")) {
    const before = typed.get(name(field));
    if (!before) continue;
    if (field.type === "checkbox" || field.type === "radio") field.checked = before.checked;
    else field.value = before.value;
  }
  for (const one of adopted.querySelectorAll("details[id]")) {
    if (open.has(one.id)) one.open = true;
  }
  old.replaceWith(adopted);
  document.title = page.title;
  refocus(active, adopted, turned);
  if (followed && followed.points !== wantsPoints()) reconnect();
  tell("swapped", {});
}

function refocus(active, into, turned) {
  const same = active && name(active) && into.querySelector(`#${CSS.escape(name(active))}`);
  const named = active?.name && into.querySelector(`[name="${CSS.escape(active.name)}"]`);
  const field = same || named;
  if (field) {
    field.focus({ preventScroll: !turned });
    if (typeof active.selectionStart === "number" && field.setSelectionRange) {
      try {
        field.setSelectionRange(active.selectionStart, active.selectionEnd);
      } catch {
        // Some kinds of field have no selection.
      }
    }
  }
  if (turned) scrollTo(0, 0);
}

function send(nonce, one) {
  if (socket?.readyState !== WebSocket.OPEN) return;
  one.sent = true;
  socket.send(JSON.stringify({ say: one.line, nonce, ago_ms: Date.now() - one.startedAt }));
}

function answered(answer) {
  const one = unanswered.get(answer.nonce);
  if (!one) return;
  unanswered.delete(answer.nonce);
  one.settle({ line: one.line, ...answer });
}

// Says a line; the promise settles with what came of it: kept, refused, or nobody knows.
export function say(line, { startedAt = Date.now() } = {}) {
  const nonce = crypto.randomUUID?.() ?? `${Date.now()}-${Math.random()}`;
  return new Promise((resolve) => {
    const settle = (detail) => {
      tell("answer", detail);
      resolve(detail);
    };
    unanswered.set(nonce, { line, startedAt, settle });
    send(nonce, unanswered.get(nonce));
  });
}

addEventListener("pagehide", () => {
  leaving = true;
});
addEventListener("pageshow", ({ persisted }) => {
  leaving = false;
  if (persisted) reconnect();
});
addEventListener("online", () => {
  if (!socket) connect();
});
document.addEventListener("visibilitychange", look);
setInterval(look, 250);
connect();
