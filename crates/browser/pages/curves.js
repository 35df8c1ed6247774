// Measures the product's own chart: half a million points held, fifty a second more. What was found
// stands in `window.measured`, and in the page.

const HELD = 500_000;
const PER_S = 50;
const FOR_MS = 10_000;

// A frame as the program names it, of any span of time.
function frame(from, to) {
  const axis = (one, other, start, end, logarithmic = false) => ({
    from: one, to: other, start, end, logarithmic,
  });
  return {
    width: 800, height: 400, font: 13,
    time_s: axis(from, to, 62, 656),
    kv: axis(0, 68.25, 150, 20),
    ua: axis(-1, 3, 358, 182, true),
    kv_names: [26.2], ua_names: [195.2, 276.7],
    late_s: 91, level_kv: 65,
  };
}

function frames(from, to) {
  const into = document.createElement("div");
  into.className = "frames";
  const wide = document.createElement("div");
  wide.className = "wide";
  wide.dataset.frame = JSON.stringify(frame(from, to));
  wide.innerHTML = '<svg viewBox="0 0 800 400"><path class="axis" d="M62 20L62 150L656 150"/>' +
    '<path class="axis" d="M62 182L62 358L656 358"/></svg>';
  into.append(wide);
  return into;
}

// The program stands behind this address on a real page.
window.fetch = async (address) => {
  const asked = new URL(address, location.href).searchParams;
  const from = Number(asked.get("from_s"));
  return new Response(frames(from, Number(asked.get("to_s") ?? 10600)).outerHTML);
};
document.querySelector(".frames").replaceWith(frames(0, 10600));

const { Extremes, place, seriesOf, takePoints } = await import(
  "/crates/app/src/web/assets/chart.js"
);

// Numbers that look like readings and are the same each time.
let seed = 1;
const random = () => {
  seed = (seed * 1664525 + 1013904223) >>> 0;
  return seed / 2 ** 32;
};

let made = 0;
function points(count) {
  const some = {
    first: made, count,
    t_s: new Float64Array(count), kv: new Float32Array(count), ua: new Float32Array(count),
    conductor: new Uint16Array(count), application: new Uint16Array(count),
    flags: new Uint32Array(count),
  };
  for (let at = 0; at < count; at += 1, made += 1) {
    const t = made / PER_S;
    some.t_s[at] = t;
    some.kv[at] = Math.min(65, t / 10) + 0.1 * random();
    some.ua[at] = random() < 0.001 ? NaN : (5 + 80 / (1 + t / 60)) * (0.9 + 0.2 * random());
  }
  return some;
}

// The extremes of the blocks against a plain look at every value.
function compare() {
  const values = new Float32Array(100_003);
  for (let at = 0; at < values.length; at += 1) values[at] = random() < 0.1 ? NaN : random() - 0.5;
  const all = new Extremes();
  let held = 0;
  while (held < values.length) {
    const more = Math.min(values.length - held, 1 + Math.floor(random() * 5000));
    all.update(values, held, held + more);
    held += more;
  }
  let wrong = 0;
  const out = [0, 0];
  for (let one = 0; one < 2000; one += 1) {
    const from = Math.floor(random() * values.length);
    const size = random() < 0.5 ? Math.floor(random() * 40) : Math.floor(random() * values.length);
    const to = Math.min(values.length, from + size);
    let min = Infinity;
    let max = -Infinity;
    for (let at = from; at < to; at += 1) {
      if (values[at] < min) min = values[at];
      if (values[at] > max) max = values[at];
    }
    all.between(values, from, to, out);
    if (out[0] !== min || out[1] !== max) wrong += 1;
  }
  return wrong;
}

// Whether the canvas has ink of the readings where the frame's scales put the last point.
function inked() {
  const series = seriesOf(0, 0);
  const last = series.count - 1;
  const scales = JSON.parse(document.querySelector("[data-frame]").dataset.frame);
  const canvas = document.querySelector("canvas");
  const by = canvas.width / scales.width;
  const x = Math.round(place(scales.time_s, series.t_s[last]) * by);
  const y = Math.round(place(scales.kv, series.kv[last]) * by);
  const { data } = canvas.getContext("2d").getImageData(x - 3, y - 3, 7, 7);
  return data.some((value, at) => at % 4 === 3 && value > 0);
}

const frameOf = () => new Promise((resolve) => requestAnimationFrame(resolve));
const canvas = document.querySelector("canvas");
const quantile = (sorted, part) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * part))];

// Frames for a time, each of them drawn anew, with points that come meanwhile.
async function run(name) {
  const apart = [];
  const drawn = [];
  const begun = performance.now();
  let before = begun;
  let sent = 0;
  while (before - begun < FOR_MS) {
    const due = Math.floor(((before - begun) / 1000) * PER_S) - sent;
    takePoints(points(due));
    sent += due;
    const now = await frameOf();
    apart.push(now - before);
    before = now;
    // The chart asked for this frame before we did: it has drawn.
    drawn.push(Number(canvas.dataset.frameMs));
  }
  drawn.sort((one, other) => one - other);
  apart.sort((one, other) => one - other);
  return {
    name,
    frames_per_s: Math.round((apart.length / (before - begun)) * 10_000) / 10,
    median_draw_ms: quantile(drawn, 0.5),
    longest_draw_ms: drawn[drawn.length - 1],
    median_apart_ms: Math.round(quantile(apart, 0.5) * 10) / 10,
    longest_apart_ms: Math.round(apart[apart.length - 1] * 10) / 10,
    points: Number(canvas.dataset.points),
    points_in_view: Number(canvas.dataset.pointsInView),
    made,
  };
}

const wrong = compare();
takePoints(points(HELD));
await frameOf();
await frameOf();
const runs = [await run("whole test")];
const ink = inked();
for (const [span, name] of [["600", "last 10 min"], ["60", "last minute"]]) {
  document.querySelector(`[data-span="${span}"]`).click();
  for (let one = 0; one < 60; one += 1) await frameOf();
  runs.push(await run(name));
}
window.measured = { wrong, inked: ink, runs };
document.getElementById("found").textContent = JSON.stringify(window.measured, null, 1);
