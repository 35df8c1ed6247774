// A tick before a reading is due, another one when state or advice changes, and speech where the
// browser has a voice. All of it is off until somebody turns it on here.

import { left } from "./scene.js";

const get = (selector) => document.querySelector(selector);
const on = (name) => localStorage.getItem(name) === "on";

let context = null;

// A browser makes no sound before a hand has touched the page.
const wake = () => {
  if (!on("ticks")) return;
  context ??= new AudioContext();
  if (context.state === "suspended") context.resume();
};

const tone = (hertz, seconds, after = 0) => {
  if (!context || context.state !== "running") return;
  const start = context.currentTime + after;
  const [source, gain] = [context.createOscillator(), context.createGain()];
  source.frequency.value = hertz;
  gain.gain.setValueAtTime(0.3, start);
  gain.gain.exponentialRampToValueAtTime(0.001, start + seconds);
  source.connect(gain).connect(context.destination);
  source.start(start);
  source.stop(start + seconds);
};

const tick = () => on("ticks") && tone(1000, 0.06);
const change = () => {
  if (!on("ticks")) return;
  tone(660, 0.18);
  tone(440, 0.25, 0.2);
};

const speak = (words) => {
  if (!on("speech") || !window.speechSynthesis) return;
  speechSynthesis.cancel();
  const said = new SpeechSynthesisUtterance(words);
  said.lang = document.documentElement.lang;
  speechSynthesis.speak(said);
};

/* When. */

let scene = null;
let before = null;
let next = null;
let timer;

const due = () => {
  clearTimeout(timer);
  if (!scene?.reading_in) return;
  const ms = left(scene.reading_in);
  // At three seconds, at two and at one.
  const whole = Math.ceil(ms / 1000);
  if (whole >= 1 && whole <= 3 && whole !== next) {
    tick();
    next = whole;
  }
  if (whole > 3) next = null;
  timer = setTimeout(due, Math.min(200, Math.max(20, ms % 1000 || 20)));
};

// Figures of a reason change with every reading and are no other advice.
const said = (one) => JSON.stringify([one.state, one.of, one.advice?.urge, one.advice?.reason]);

document.addEventListener("scene", ({ detail }) => {
  scene = detail.scene;
  if (before !== null && before !== said(scene)) {
    change();
    const advice = scene.advice ? `${scene.advice.word}: ${scene.advice.why}. ` : "";
    speak(`${scene.state_word.toLowerCase()}. ${scene.of}. ${advice}${scene.next}`);
  }
  before = said(scene);
  due();
});

document.addEventListener("link", ({ detail }) => {
  if (!detail.lost) return;
  change();
  speak(document.getElementById("link-lost")?.textContent ?? "");
});

/* The two buttons. */

const show = () => {
  if (!get("[data-sound]")) return;
  for (const name of ["ticks", "speech"]) {
    const button = get(`[data-${name}]`);
    button.hidden = name === "speech" && !window.speechSynthesis;
    button.setAttribute("aria-pressed", on(name));
    button.textContent = button.dataset[on(name) ? "isOn" : "isOff"];
  }
};

document.addEventListener("click", ({ target }) => {
  for (const name of ["ticks", "speech"]) {
    if (!target.closest(`[data-${name}]`)) continue;
    localStorage.setItem(name, on(name) ? "off" : "on");
    show();
    wake();
    if (name === "ticks") tick();
    else if (scene) speak(scene.next);
  }
});
for (const touched of ["click", "keydown"]) document.addEventListener(touched, wake);
document.addEventListener("swapped", show);
show();
