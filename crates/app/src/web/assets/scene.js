// Puts newer words of a record where older ones stand: on the stage and on the second screen.
// Every word comes ready from the program; only a clock is counted on here.

const all = (selector) => document.querySelectorAll(selector);

const say = (selector, text) => {
  for (const one of all(selector)) if (one.textContent !== text) one.textContent = text;
};

const attribute = (one, name, value) => {
  if (value == null) one.removeAttribute(name);
  else if (one.getAttribute(name) !== String(value)) one.setAttribute(name, value);
};

// Values that may be missing, and what stands for them.
const MISSING = { kilovolts: "?", current: "not read", ammeter_range: "not known" };

let shown = null;
let hazardous = [];
let at = 0;
let pace = 1;

export const clock = (ms) => {
  const s = Math.max(0, Math.ceil(ms / 1000));
  const two = (n) => String(n).padStart(2, "0");
  const rest = `${Math.floor(s / 60) % 60}`;
  return s < 3600 ? `${rest}:${two(s % 60)}` :
    `${Math.floor(s / 3600)}:${two(rest)}:${two(s % 60)}`;
};

// What is left of a time that was told a while ago.
export const left = (time) => Math.max(0, time.left_ms - (performance.now() - at) * pace);

const list = (holder, texts, fill) => {
  while (holder.children.length > texts.length) holder.lastElementChild.remove();
  while (holder.children.length < texts.length) {
    holder.append(document.createElement(holder.matches("ol, ul") ? "li" : "p"));
  }
  texts.forEach((text, index) => fill(holder.children[index], text));
};

const text = (one, words) => {
  if (one.textContent !== words) one.textContent = words;
};

// The rows of a table, cell by cell; it has as many as there are.
const rows = (body, all) => {
  while (body.rows.length > all.length) body.deleteRow(-1);
  while (body.rows.length < all.length) body.insertRow();
  all.forEach((cells, index) => {
    const row = body.rows[index];
    while (row.cells.length < cells.length) row.insertCell();
    cells.forEach((words, at) => text(row.cells[at], words));
  });
};

const times = () => {
  if (!shown) return;
  const { reading_in, wait } = shown;
  say("[data-reading-in]", reading_in ? clock(left(reading_in)) : "—");
  const watch = document.querySelector("[data-watch]");
  const next = watch ? wait ?? (reading_in && { what: "Next reading", ...reading_in }) : wait;
  say("[data-wait-what]", next?.what ?? (watch ? "Next reading" : ""));
  say("[data-wait]", next ? clock(left(next)) : watch ? "—" : "");
};

const paint = (scene, hazards) => {
  for (const one of all("[data-live]")) {
    const key = one.dataset.live;
    if (key in scene) text(one, scene[key] ?? MISSING[key] ?? "");
  }
  for (const one of all("[data-state]")) attribute(one, "data-is", scene.state);
  for (const one of all("[data-standing]")) list(one, scene.standing, text);
  const { advice, ahead, charging, expected, trip } = scene;
  for (const one of all("[data-advice-more]")) list(one, advice?.more ?? [], text);
  for (const one of all("[data-ahead]")) rows(one, ahead?.rows ?? []);
  for (const one of all("[data-expected]")) {
    attribute(one.parentElement, "data-lies", expected?.lies);
    text(one, expected ? `${expected.said} ${expected.band}` : "");
  }
  say("[data-trip]", trip ? trip.said : "Trip setting not known");
  for (const one of all("[data-charging-said]")) text(one, charging?.said ?? one.dataset.idle);
  for (const one of all("[data-taken]")) {
    const part = (one.dataset.taken === "charging" ? charging : trip)?.taken;
    attribute(one, "width", (Math.min(1, Math.max(0, part ?? 0)) * 100).toFixed(1));
    attribute(one, "data-past", part >= 1 ? "" : null);
  }
  for (const holder of all(".conductors")) {
    for (const one of scene.conductors) {
      const row = [...holder.children].find((row) => row.dataset.conductor === one.name);
      if (!row) continue;
      attribute(row, "data-is", one.state);
      text(row.querySelector(".text"), one.text);
      const left = hazards.find((hazard) => hazard.conductor === one.name);
      text(row.querySelector(".left"), left?.said ?? "");
    }
  }
  for (const one of all("[data-messages]")) {
    list(one, scene.messages.slice(-one.dataset.messages).reverse(), text);
  }
  times();
};

document.addEventListener("scene", (event) => {
  const { detail } = event;
  shown = detail.scene;
  pace = detail.pace ?? pace;
  hazardous = detail.hazards.filter((one) => one.record === detail.record);
  at = performance.now();
  paint(shown, hazardous);
});
// Nobody knows how it stands until something is heard again.
document.addEventListener("link", ({ detail }) => {
  if (!detail.lost) return;
  for (const one of all("[data-lost]")) text(one, one.dataset.lost);
});
document.addEventListener("swapped", () => shown && paint(shown, hazardous));
setInterval(times, 250);
