// The form of a sheet: every change is sent, and newer words are put where the page has a place
// for them. What is being typed is never touched.

const PAUSE_MS = 150;
const AGAIN_MS = 1000;
let waiting = 0;
let sending = false;
// Fields that were touched and are not kept yet; another page of this sheet may write the rest.
let touched = new Set();

const formNow = () => document.querySelector("[data-sheet-form]");

// Words that stand in the newer page in another way, and groups that another class asks for.
const put = (newer) => {
  for (const place of document.querySelectorAll("[data-fresh-when]")) {
    const other = newer.getElementById(place.id);
    if (!other || other.dataset.freshWhen === place.dataset.freshWhen) continue;
    if (place.contains(document.activeElement)) continue;
    place.replaceWith(other);
  }
  for (const other of newer.querySelectorAll("[data-fresh]")) {
    const place = document.getElementById(other.id);
    if (place && place.innerHTML !== other.innerHTML) {
      const open = [...place.querySelectorAll("details")].map((one) => one.open);
      place.replaceChildren(...other.childNodes);
      place.querySelectorAll("details").forEach((one, at) => { one.open = open[at] ?? one.open; });
    }
  }
  document.dispatchEvent(new CustomEvent("swapped"));
};

// What stands in these fields; meters are counted, so they go together.
const said = (form, names) => {
  const meters = [...names].some((name) => name.startsWith("meter."));
  const all = [...new FormData(form)];
  const wanted = ([name]) => names.has(name) || (meters && name.startsWith("meter."));
  return new URLSearchParams(all.filter(wanted));
};

const send = async () => {
  const form = formNow();
  if (!form || sending || touched.size === 0) return;
  sending = true;
  const names = touched;
  touched = new Set();
  const lost = document.getElementById("not-kept");
  try {
    const answer = await fetch(form.action, {
      method: "POST",
      headers: { "x-typed": "1" },
      body: said(form, names),
    });
    if (!answer.ok) throw new Error(`${answer.status}`);
    put(new DOMParser().parseFromString(await answer.text(), "text/html"));
    if (lost) lost.hidden = true;
  } catch {
    names.forEach((name) => touched.add(name));
    begins = undefined;
    if (lost) lost.hidden = false;
    clearTimeout(waiting);
    waiting = setTimeout(send, AGAIN_MS);
    sending = false;
    return;
  }
  sending = false;
  if (touched.size > 0) send();
  else begin();
};

// A record begins with the plan that was seen: what is typed is kept first, and where that changes
// the plan it is looked at once more.
let begins;
const planNow = () => document.getElementById("plan-now")?.innerHTML;

const begin = () => {
  if (!begins) return;
  const { form, plan } = begins;
  begins = undefined;
  if (plan === planNow()) form.requestSubmit();
  else document.getElementById("look-again").hidden = false;
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-begins]")) return;
  document.getElementById("look-again").hidden = true;
  if (touched.size === 0 && !sending) return;
  event.preventDefault();
  begins = { form, plan: planNow() };
  clearTimeout(waiting);
  send();
});

const soon = (event) => {
  if (!event.target.closest?.("[data-sheet-form]") || event.target.closest(".pick")) return;
  touched.add(event.target.name);
  clearTimeout(waiting);
  waiting = setTimeout(send, event.type === "change" ? 0 : PAUSE_MS);
};
document.addEventListener("input", soon);
document.addEventListener("change", soon);

// A link to a field opens the group it is folded in, and goes into it.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.('a[href^="#f-"]');
  const field = link && document.getElementById(link.getAttribute("href").slice(1));
  if (!field) return;
  for (let at = field.closest("details"); at; at = at.parentElement.closest("details")) {
    at.open = true;
  }
  event.preventDefault();
  field.scrollIntoView({ block: "center" });
  const inputs = [...field.querySelectorAll("input:not([type=hidden]), textarea")];
  (inputs.find((one) => one.checked) ?? inputs[0])?.focus({ preventScroll: true });
});

// A picked file is shown before it is taken.
const pick = document.getElementById("pick-file");
if (pick) {
  pick.hidden = false;
  pick.querySelector("input").addEventListener("change", async (event) => {
    const file = event.target.files[0];
    if (file) document.getElementById("text").value = await file.text();
  });
}
for (const one of document.querySelectorAll(".without-script")) one.hidden = true;
