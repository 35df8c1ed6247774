// Runs on every page: the theme, and whichever modules the page asks for.

const theme = document.getElementById("theme");
theme?.addEventListener("click", () => {
  const next = document.documentElement.dataset.theme === "dim" ? "daylight" : "dim";
  document.cookie = `theme=${next}; path=/; max-age=31536000; samesite=strict`;
  document.documentElement.dataset.theme = next;
  theme.textContent = next === "dim" ? "Daylight" : "Dim";
});
