// Runs on every page: the theme, and whichever modules the page asks for.

const theme = document.getElementById("theme");
theme?.addEventListener("click", () => {
  const next = document.documentElement.dataset.theme === "dim" ? "daylight" : "dim";
  document.cookie = `theme=${next}; path=/; max-age=31536000; samesite=strict`;
  document.documentElement.dataset.theme = next;
  theme.textContent = next === "dim" ? "Daylight" : "Dim";
});

// Newer words on every page of those who were let in; the rest where a page has a place for it.
if (!("outside" in document.documentElement.dataset)) import("./live.js");
const wanted = {
  "[data-live]": "./scene.js",
  "[data-stage-acts]": "./stage.js",
  "[data-sound]": "./sound.js",
  "[data-sheet-form]": "./sheet.js",
  "[data-chart]": "./chart.js",
  "[data-far]": "./far.js",
  "[data-log]": "./log.js",
};
const wake = () => {
  for (const [selector, module] of Object.entries(wanted)) {
    if (document.querySelector(selector)) import(module);
  }
};
wake();
document.addEventListener("swapped", wake);
