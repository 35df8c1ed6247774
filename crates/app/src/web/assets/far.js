// What the guard of the far end says, without leaving the page: it goes at once, and what did not
// arrive is told so that a voice can carry it.

const told = (text, bad) => {
  const place = document.querySelector("[data-far-told]");
  if (!place) return;
  place.textContent = text;
  place.toggleAttribute("data-bad", bad);
};

const LOST = "NOT HEARD. Speak to the person at the set now, by radio or voice.";
const PATIENCE_MS = 4000;

document.addEventListener("submit", (event) => {
  const form = event.target.closest?.("[data-far-say]");
  if (!form) return;
  event.preventDefault();
  const pressed = Date.now();
  const nonce = crypto.randomUUID?.() ?? `${pressed}-${Math.random()}`;
  told("Sent, not yet acknowledged", false);
  const send = async () => {
    const body = new URLSearchParams({ nonce, ago_ms: Date.now() - pressed });
    const signal = AbortSignal.timeout?.(PATIENCE_MS);
    const answer = await fetch(form.action, { method: "POST", body, signal });
    if (answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    throw new Error(page.querySelector("main")?.textContent.trim() ?? answer.status);
  };
  // Sent again it is said once: both have the same word.
  send()
    .catch((why) => (why.name === "Error" ? Promise.reject(why) : send()))
    .then(
      () => told(`In the record since ${new Date().toLocaleTimeString()}`, false),
      (why) => told(why.name === "Error" ? `${LOST} ${why.message}` : LOST, true),
    );
});
