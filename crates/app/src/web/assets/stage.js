// The hand at the stage: readings as they are typed, statements by button and by key. A line counts
// as kept only when the program has answered so.

import { say } from "./live.js";

const get = (selector, of = document) => of.querySelector(selector);
const all = (selector, of = document) => [...of.querySelectorAll(selector)];
const record = () => document.getElementById("main").dataset.record;
const remembered = (name) => localStorage.getItem(name);
const remember = (name, value) => localStorage.setItem(name, value);

/* What was said, and what came of it. */

const ROWS = 3;
// The newest first; another page shows them on.
const rows = [];
let refused = "";

const show = () => {
  get("[data-said]")?.replaceChildren(...rows);
  get("[data-refusal]")?.replaceChildren(refused);
};

const send = async (line, told, startedAt) => {
  const words = { ...get("[data-said]").dataset };
  const row = document.createElement("li");
  const [said, state] = [document.createElement("span"), document.createElement("strong")];
  said.textContent = told;
  state.textContent = words.sent;
  row.append(said, state);
  rows.unshift(row);
  // What has no answer yet stays, however many they are.
  const over = rows.slice(ROWS).filter((one) => one.dataset.answered);
  for (const one of over) rows.splice(rows.indexOf(one), 1);
  show();
  const answer = await say(line, { startedAt });
  const what = answer.refused === undefined ? "kept" : answer.unknown ? "unknown" : "refused";
  state.textContent = words[what];
  row.dataset.answered = what;
  refused = answer.refused ?? "";
  show();
  // What was not taken is never said where nobody looks.
  if (refused) get("[data-refusal]")?.scrollIntoView({ block: "nearest" });
  return what === "kept";
};

/* Statements. */

const field = (form, name) => form.elements[name]?.value.trim() ?? "";

const written = (form) => {
  const [first, second] = [field(form, "first"), field(form, "second")];
  const joint = second ? [field(form, "joint"), second] : [];
  return [field(form, "line"), first, ...joint].filter(Boolean).join(" ");
};

// The statement as it stands on its button, with what was written beside it.
const told = (form) => {
  const said = get(".said", form.closest(".act")).textContent;
  const more = [field(form, "first"), field(form, "second")].filter(Boolean).join(", ");
  const of = form.closest("[data-of]")?.dataset.of;
  return `${of}: ${said}${more && ": "}${more}`;
};

const state = async (form) => {
  if ("busy" in form.dataset) return;
  form.dataset.busy = "";
  const startedAt = Number(form.dataset.startedAt) || Date.now();
  const kept = await send(written(form), told(form), startedAt);
  delete form.dataset.busy;
  delete form.dataset.startedAt;
  if (!kept) return;
  // Newer words may have come meanwhile, in another form of the same line.
  const same = ({ dataset }) => dataset.line === form.closest("[data-line]").dataset.line;
  const lines = [form.closest("[data-line]"), ...all("#acts [data-line]").filter(same)];
  for (const line of lines) {
    const own = line.matches("form") ? line : get("form", line);
    own.reset();
    if (line.matches("details")) line.open = false;
  }
};

/* The reading. */

let startedAt = 0;
let shifted = 0;

const form = () => get("[data-reading]");
const kv = () => get("[data-kv]");
const ua = () => get("[data-ua]");
const unit = () => get("[data-unit]");
const places = () => unit().selectedOptions[0].dataset.places;

// A comma is the decimal sign where it cannot be anything else; what is left unclear is refused by
// the program, in words.
const plain = (text) => {
  const clear = /^[-+\u2212]?(0,\d+|\d+,\d{1,2}|\d+,\d{4,}|\d{4,},\d+)$/.test(text);
  return clear ? text.replace(",", ".") : text;
};

// The figures stay as the needle says them, so that what they tell of its fineness stays too.
const scaled = (text) => {
  const number = plain(text);
  return /\d$/.test(number) && places() !== "0" ? `${number}e${places()}` : number;
};

const stamp = () => {
  if (startedAt) return;
  startedAt = Date.now();
  shifted = 0;
};

const stamped = () => {
  const line = get("[data-stamped]");
  if (!line) return;
  line.toggleAttribute("data-idle", !startedAt);
  const ago = Math.max(0, Math.round((Date.now() - startedAt + shifted) / 1000));
  get("[data-stamp]", line).textContent = ago;
};

const shift = (ms) => {
  if (!startedAt) return;
  // Nothing is read before it happens.
  shifted = Math.max(startedAt - Date.now(), shifted + ms);
  stamped();
};

const leave = () => {
  startedAt = 0;
  last = null;
  kv().value = "";
  ua().value = "";
  document.activeElement?.blur();
  stamped();
};

const read = () => {
  const of = get('[data-name]:checked, [data-name][type="hidden"]', form());
  const line = `${of.value} ${plain(kv().value.trim())} ${scaled(ua().value.trim())}`;
  const told = `${of.dataset.name}: ${kv().value} kV, ${ua().value} ${unit().value}`;
  send(line, told, startedAt ? startedAt - shifted : Date.now());
  leave();
};

const begin = (character) => {
  const into = kv();
  into.focus();
  into.value += character;
  stamp();
  stamped();
};

/* The keypad for gloves. */

let last = null;

// Fields that the keypad writes into; the system's own keyboard stays away from them meanwhile.
const numbers = () => all("[data-number]", get("[data-stage-acts]"));

const pad = (shown) => {
  const keys = get("[data-pad]");
  if (!keys) return;
  // Where nobody chose, the style sheet goes by the pointer, before a script runs.
  keys.dataset.pad = shown ? "on" : "off";
  for (const one of numbers()) one.inputMode = shown ? "none" : "decimal";
  get("[data-pad-shown]").setAttribute("aria-pressed", shown);
};

const coarse = matchMedia("(pointer: coarse)");
const padWanted = () => (remembered("keypad") ?? (coarse.matches ? "on" : "off")) === "on";

const press = (key) => {
  const into = last?.isConnected ? last : kv();
  if (key === "enter") {
    if (into === kv() && into.value) ua().focus();
    else into.form.requestSubmit();
    return;
  }
  into.focus();
  if (key === "back") into.value = into.value.slice(0, -1);
  else into.value += key;
  into.dispatchEvent(new Event("input", { bubbles: true }));
};

/* Newer statements, when others can be made than before. */

let fetching = false;
let wanted = null;

const refresh = async (acts) => {
  wanted = String(acts);
  const holder = document.getElementById("acts");
  if (!holder || fetching || holder.dataset.acts === wanted) return;
  fetching = true;
  const asked = wanted;
  try {
    const answer = await fetch(`/sheet/${record()}/acts`);
    if (answer.ok) put(holder, await answer.text(), asked);
  } catch {
    // The link is lost, and that is said; the next scene asks again.
  } finally {
    fetching = false;
  }
  if (wanted !== asked) refresh(wanted);
};

// What stands here already and looks the same stays as it is: a hand may be on it.
const put = (holder, text, acts) => {
  const fresh = document.createElement("template");
  fresh.innerHTML = text;
  const focused = document.activeElement;
  const meant = get("[data-meant]", holder)?.dataset.of;
  for (const one of all("[data-line]", fresh.content)) {
    const before = all("[data-line]", holder).find((old) => old.dataset.line === one.dataset.line);
    if (!before) continue;
    if (before.dataset.sign === one.dataset.sign) one.replaceWith(before);
    else if (before.open) {
      one.open = true;
      const [from, to] = [get("form", before), get("form", one)];
      for (const name of ["first", "second"]) {
        if (to.elements[name]) to.elements[name].value = field(from, name);
      }
    }
  }
  for (const group of all("details.acts", fresh.content)) {
    group.open = all("details.acts[open]", holder).some((one) => one.dataset.of === group.dataset.of);
  }
  holder.replaceChildren(fresh.content);
  holder.dataset.acts = acts;
  pad(padWanted());
  if (holder.contains(focused)) focused.focus({ preventScroll: true });
  if (meant && pickedByHand) mean(meant);
};

/* Which conductor is meant. */

let pickedByHand = false;

const mean = (name) => {
  for (const one of all("#acts [data-of]")) {
    one.toggleAttribute("data-meant", one.dataset.of === name);
    // Lines of another conductor are not left where a hand may take them for its own.
    if (one.matches("details")) one.open = one.dataset.of === name || Boolean(get("[open]", one));
  }
  for (const one of all("[data-reading] [data-name]")) {
    if (one.type === "radio") one.checked = one.dataset.name === name;
  }
};

const nextConductor = () => {
  const names = all("#acts [data-of]").map((one) => one.dataset.of);
  const at = names.indexOf(get("#acts [data-meant]")?.dataset.of);
  pickedByHand = true;
  mean(names[(at + 1) % names.length]);
};

/* The longer reason of what is advised. */

let whyOpen = false;

const why = (open) => {
  whyOpen = open;
  get("[data-more]")?.setAttribute("aria-expanded", String(open));
};

/* Keys. */

const writes = (one) => one?.matches?.('input:not([type="radio"], [type="checkbox"]), textarea, select');
const singleKeys = () => remembered("single-keys") !== "off";

// What cannot be said yet is answered with the reason.
const waits = (key) => {
  const group = get("#acts [data-meant]");
  const one = group && get(`[data-waits="${CSS.escape(key)}"]`, group);
  if (one) {
    refused = one.textContent;
    show();
    return true;
  }
  // What is out of place is said all the same: the answer tells what comes first.
  const words = get(`[data-plain="${CSS.escape(key)}"]`);
  const of = group && get(`[data-reading] [data-name="${CSS.escape(group.dataset.of)}"]`);
  if (!words || !of) return false;
  send(`${of.value} ${words.dataset.words}`, `${of.dataset.name}: ${words.textContent}`, Date.now());
  return true;
};

// A key is of the conductor that is meant, and of no other; what comes next names its own, unless
// a hand picked another. Some lines are of the record.
const act = (key) => {
  const own = all(`[data-key="${CSS.escape(key)}"]`);
  const next = pickedByHand ? undefined : own.find((one) => get(".first", one));
  const meant = own.find((one) => one.closest("[data-meant]"));
  const one = next ?? meant ?? own.find((one) => !one.dataset.line.startsWith("@"));
  if (!one) return waits(key);
  if (one.matches("form")) one.requestSubmit();
  else {
    one.open = true;
    get('input:not([type="hidden"])', one).focus();
  }
  return true;
};

const inReading = (event) => {
  const steps = { ArrowDown: 1, ArrowUp: -1 };
  if (event.target.matches("select") || !event.target.closest("[data-reading]")) return false;
  if (event.key === "Enter" && event.target === kv() && kv().value) {
    ua().focus();
    return true;
  }
  if (!(event.key in steps)) return false;
  shift(steps[event.key] * (event.shiftKey ? 5000 : 1000));
  return true;
};

const inField = (event) => {
  if (event.key !== "Escape") return inReading(event);
  if (event.target.closest("[data-reading]")) leave();
  else {
    const line = event.target.closest("details.act");
    if (line) line.open = false;
    event.target.blur();
  }
  return true;
};

const outside = (event) => {
  if (event.repeat || !singleKeys()) return false;
  if (/^[\d.,+\-\u2212]$/.test(event.key)) return form() ? (begin(event.key), true) : false;
  if (event.key === "*") return nextConductor(), true;
  if (event.key === "!") return why(!whyOpen), true;
  if (event.key === "/" || event.key === "?") {
    const list = get("[data-keys]");
    list.open = !list.open;
    get("summary", list).focus();
    return true;
  }
  return /^[\p{L}#]$/u.test(event.key) && act(event.key.toLowerCase());
};

document.addEventListener("keydown", (event) => {
  if (!get("[data-stage-acts]") || event.defaultPrevented || event.isComposing) return;
  const chord = event.ctrlKey || event.metaKey || event.altKey;
  const wish = chord
    ? !writes(event.target) && event.ctrlKey && /^[dz]$/i.test(event.key) &&
      act(`Ctrl+${event.key.toUpperCase()}`)
    : writes(event.target) ? inField(event) : outside(event);
  if (wish) event.preventDefault();
});

/* Hands. */

document.addEventListener("submit", (event) => {
  const { target } = event;
  if (!target.closest("[data-stage-acts]") || !get("[data-said]")) return;
  if (target.matches("[data-reading]")) read();
  else if (target.closest(".act")) state(target);
  else return;
  event.preventDefault();
});

document.addEventListener("input", ({ target }) => {
  if (target === kv() || target === ua()) {
    if (kv().value || ua().value) stamp();
    else startedAt = 0;
    stamped();
    return;
  }
  const own = target.closest(".act form");
  if (own) own.dataset.startedAt ||= Date.now();
});

document.addEventListener("change", ({ target }) => {
  if (target.matches("[data-single-keys]")) remember("single-keys", target.checked ? "on" : "off");
  if (target.matches("[data-unit]")) target.dataset.by = "hand";
  if (target.matches("[data-reading] [data-name]")) {
    pickedByHand = true;
    mean(target.dataset.name);
  }
});

document.addEventListener("focusin", ({ target }) => {
  if (target.matches("[data-number]")) last = target;
  else if (writes(target)) last = null;
});

document.addEventListener("pointerdown", (event) => {
  // The field keeps its focus while keys of the pad are pressed.
  if (event.target.closest("[data-press]")) event.preventDefault();
});

document.addEventListener("click", ({ target }) => {
  const key = target.closest("[data-press]");
  if (key) press(key.dataset.press);
  const time = target.closest("[data-shift]");
  if (time) shift(Number(time.dataset.shift));
  if (target.closest("[data-more]")) why(!whyOpen);
  if (target.closest("[data-pad-shown]")) {
    const shown = get("[data-pad]").dataset.pad !== "on";
    remember("keypad", shown ? "on" : "off");
    pad(shown);
  }
});

/* What comes. */

let focus = null;
let range;

document.addEventListener("scene", ({ detail: { scene } }) => {
  refresh(scene.acts);
  if (focus !== null && focus !== scene.focus) {
    pickedByHand = false;
    mean(scene.focus);
  }
  focus = scene.focus;
  if (range !== scene.ammeter_range && unit()) {
    if (range !== undefined || unit().dataset.by !== "hand") unit().value = scene.needle_unit;
    delete unit().dataset.by;
    range = scene.ammeter_range;
  }
});

const begun = () => {
  show();
  why(whyOpen);
  pad(padWanted());
  const keys = get("[data-single-keys]");
  if (keys) keys.checked = singleKeys();
  stamped();
};

document.addEventListener("swapped", begun);
setInterval(stamped, 500);
begun();
