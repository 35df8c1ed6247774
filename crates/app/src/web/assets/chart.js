// Readings on the frame of a chart, while they come.
//
// The frame (axes, what is planned, names) is a picture that the program made; its scales come with
// it as data, and readings are drawn on a canvas over it on the same places. Held are all points,
// with the least and the greatest of each eight, of each eight of these, and so on, so that one
// column of the screen costs the same whether ten readings fall into it or ten thousand.
//
// Listens on `document` to `points` and `refill` (live.js) and `swapped` (another <main>).

const OVER = 1;
const BLANK = 2;
const WITHDRAWN = 8;
const IDLE = 16;
const OTHER_RANGE = 32;
// What has a shape of its own, as bits.
const ODD_OVER = 1;
const ODD_UNREAD = 2;
const ODD_NONE = 4;
const ODD_RANGE = 8;

const EIGHT = 8;
// Of a frame as it is fetched anew: room for what comes next.
const ROOM = 1.25;
const BETWEEN_FETCHES_MS = 400;
// A reading stands at a level within this part of it.
const AT_LEVEL = 0.03;
// Points are dots of their own where each has so many pixels.
const DOT_PX = 5;
// A line goes through each point up to so many in a pixel.
const LINE_PER_PX = 4;

// The least and the greatest of a column of numbers, in blocks of eight, of 64 and so on.
export class Extremes {
  constructor() {
    this.levels = [];
  }

  // Values from `from` on have changed; `count` of them are held.
  update(values, from, count) {
    let source = { min: values, max: values };
    let start = from;
    let held = count;
    for (let level = 0; held >= EIGHT; level += 1) {
      const blocks = Math.ceil(held / EIGHT);
      const into = this.room(level, blocks);
      const first = Math.floor(start / EIGHT);
      for (let block = first; block < blocks; block += 1) {
        let min = Infinity;
        let max = -Infinity;
        const end = Math.min((block + 1) * EIGHT, held);
        for (let at = block * EIGHT; at < end; at += 1) {
          // What was not read is no number and is neither.
          if (source.min[at] < min) min = source.min[at];
          if (source.max[at] > max) max = source.max[at];
        }
        into.min[block] = min;
        into.max[block] = max;
      }
      source = into;
      start = first;
      held = blocks;
    }
  }

  room(level, blocks) {
    const old = this.levels[level];
    if (old && old.min.length >= blocks) return old;
    const length = Math.max(64, blocks * 2);
    const fresh = { min: new Float32Array(length), max: new Float32Array(length) };
    if (old) {
      fresh.min.set(old.min);
      fresh.max.set(old.max);
    }
    this.levels[level] = fresh;
    return fresh;
  }

  // The least and the greatest from `from` up to `to`, that one left out, into `out`.
  between(values, from, to, out) {
    let min = Infinity;
    let max = -Infinity;
    let at = from;
    while (at < to) {
      let level = -1;
      let size = 1;
      while (at % (size * EIGHT) === 0 && at + size * EIGHT <= to && this.levels[level + 1]) {
        size *= EIGHT;
        level += 1;
      }
      const source = level < 0 ? undefined : this.levels[level];
      const low = source ? source.min[at / size] : values[at];
      const high = source ? source.max[at / size] : values[at];
      if (low < min) min = low;
      if (high > max) max = high;
      at += size;
    }
    out[0] = min;
    out[1] = max;
    return out;
  }
}

// The readings of one application of voltage to one conductor, in order of time.
export class Series {
  constructor() {
    this.count = 0;
    this.t_s = new Float64Array(1024);
    this.kv = new Float32Array(1024);
    this.ua = new Float32Array(1024);
    // Where a point stands among all points of the record.
    this.index = new Uint32Array(1024);
    this.odd = new Uint8Array(1024);
    this.ofKv = new Extremes();
    this.ofUa = new Extremes();
    this.withdrawn = new Map();
    this.dirty = Infinity;
    this.oddAt = [];
    // The highest voltage, and the least and the greatest current above zero.
    this.highest = 0;
    this.least = Infinity;
    this.most = 0;
  }

  put(index, t_s, kv, ua, flags) {
    if (flags & WITHDRAWN) {
      const at = this.find(index);
      if (at >= 0) this.take(at);
      this.withdrawn.set(index, { t_s, kv, ua });
      return;
    }
    let at = this.find(index);
    if (at < 0) at = this.open(index, t_s);
    this.kv[at] = kv;
    this.ua[at] = ua;
    this.odd[at] = oddOf(ua, flags);
    this.dirty = Math.min(this.dirty, at);
    if (kv > this.highest) this.highest = kv;
    if (ua > 0 && ua < this.least) this.least = ua;
    if (ua > this.most) this.most = ua;
  }

  // Where a point of the record stands here; most are looked for at the end.
  find(index) {
    for (let at = this.count - 1; at >= 0; at -= 1) {
      if (this.index[at] === index) return at;
      // Only what was typed a little earlier stands out of its order.
      if (this.index[at] + 10000 < index) return -1;
      if (at === this.count - 1 && index > this.last) return -1;
    }
    return -1;
  }

  // Makes a place for a point at this time.
  open(index, t_s) {
    if (this.count === this.t_s.length) this.grow();
    let at = this.count;
    while (at > 0 && this.t_s[at - 1] > t_s) at -= 1;
    if (at < this.count) {
      for (const column of [this.t_s, this.kv, this.ua, this.index, this.odd]) {
        column.copyWithin(at + 1, at, this.count);
      }
    }
    this.t_s[at] = t_s;
    this.index[at] = index;
    this.last = Math.max(this.last ?? -1, index);
    this.count += 1;
    this.dirty = Math.min(this.dirty, at);
    return at;
  }

  // Takes a point out.
  take(at) {
    for (const column of [this.t_s, this.kv, this.ua, this.index, this.odd]) {
      column.copyWithin(at, at + 1, this.count);
    }
    this.count -= 1;
    this.dirty = Math.min(this.dirty, at);
  }

  grow() {
    const longer = (column) => {
      const fresh = new column.constructor(column.length * 2);
      fresh.set(column);
      return fresh;
    };
    for (const name of ["t_s", "kv", "ua", "index", "odd"]) this[name] = longer(this[name]);
  }

  // Brings the extremes up to date.
  settle() {
    if (this.dirty === Infinity) return;
    const from = Math.max(0, Math.min(this.dirty, this.count - 1));
    this.ofKv.update(this.kv, from, this.count);
    this.ofUa.update(this.ua, from, this.count);
    while (this.oddAt.length && this.oddAt[this.oddAt.length - 1] >= from) this.oddAt.pop();
    for (let at = from; at < this.count; at += 1) if (this.odd[at]) this.oddAt.push(at);
    this.dirty = Infinity;
  }

  // The first point at or after a time.
  since(t_s, from = 0) {
    let low = from;
    let high = this.count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.t_s[middle] < t_s) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  // Whether a meter went to another range at one of these points.
  changesRange(from, to) {
    for (let one = lower(this.oddAt, from); one < this.oddAt.length; one += 1) {
      if (this.oddAt[one] >= to) return false;
      if (this.odd[this.oddAt[one]] & ODD_RANGE) return true;
    }
    return false;
  }

  newest() {
    return this.count ? this.t_s[this.count - 1] : 0;
  }
}

function oddOf(ua, flags) {
  const range = flags & OTHER_RANGE ? ODD_RANGE : 0;
  if (flags & OVER) return range | ODD_OVER;
  if (Number.isNaN(ua)) return range | ODD_UNREAD;
  return range | (ua <= 0 ? ODD_NONE : 0);
}

// All points of the record, by conductor and application.
const held = new Map();
// Which application of each conductor is the newest.
const newest = new Map();
const figures = new Set();

export function seriesOf(conductor, application) {
  const key = conductor * 65536 + application;
  let series = held.get(key);
  if (!series) {
    series = new Series();
    held.set(key, series);
  }
  return series;
}

export function takePoints(points) {
  for (let at = 0; at < points.count; at += 1) {
    if (points.flags[at] & (BLANK | IDLE)) continue;
    const conductor = points.conductor[at];
    const application = points.application[at];
    if (application > (newest.get(conductor) ?? -1)) newest.set(conductor, application);
    const series = seriesOf(conductor, application);
    series.put(points.first + at, points.t_s[at], points.kv[at], points.ua[at], points.flags[at]);
  }
  figures.forEach((figure) => figure.wake());
}

export function forget() {
  held.clear();
  newest.clear();
  figures.forEach((figure) => figure.wake());
}

// A value to its place by a scale of the frame.
export function place(scale, value) {
  const at = scale.logarithmic ? Math.log10(value) : value;
  const share = (at - scale.from) / (scale.to - scale.from);
  return scale.start + Math.min(1, Math.max(0, share)) * (scale.end - scale.start);
}

const outOf = [0, 0];

// One chart that lives.
class Figure {
  constructor(element) {
    this.element = element;
    this.canvas = element.querySelector("canvas");
    this.context = this.canvas.getContext("2d");
    this.conductor = Number(element.dataset.index);
    this.test = element.dataset.test;
    this.span = undefined;
    this.end = undefined;
    // What the frame in place was asked for.
    this.asked = { from_s: 0, to_s: undefined, kv: 0, least: undefined, most: undefined };
    this.key = "";
    this.fetched = 0;
    this.due = false;
    this.buttons();
    this.watch = new ResizeObserver(() => this.wake());
    this.watch.observe(element);
    this.wake();
  }

  gone() {
    this.watch.disconnect();
    clearTimeout(this.later);
  }

  buttons() {
    this.element.addEventListener("click", ({ target }) => {
      const button = target.closest("button");
      if (button?.dataset.span !== undefined) this.look(Number(button.dataset.span) || undefined);
      if (button?.dataset.move) this.move(Number(button.dataset.move));
    });
    this.element.addEventListener("keydown", (event) => {
      const moves = { ArrowLeft: -1, ArrowRight: 1 };
      if (event.target !== this.element || event.ctrlKey || event.altKey || event.metaKey) return;
      if (moves[event.key]) this.move(moves[event.key]);
      else if (event.key === "End") this.look(this.span);
      else return;
      event.preventDefault();
    });
  }

  // So many seconds of it, the newest; without a number all of it.
  look(span) {
    this.span = span;
    this.end = undefined;
    for (const button of this.element.querySelectorAll("[data-span]")) {
      button.setAttribute("aria-pressed", String((Number(button.dataset.span) || undefined) === span));
    }
    this.wake();
  }

  // Half of what is in sight earlier or later; at the newest it follows again.
  move(by) {
    if (!this.span) return;
    const last = this.series().newest();
    const end = (this.end ?? last) + (by * this.span) / 2;
    this.end = end >= last ? undefined : Math.max(end, Math.min(this.span, last));
    this.wake();
  }

  series() {
    return seriesOf(this.conductor, newest.get(this.conductor) ?? 0);
  }

  wake() {
    if (this.due) return;
    this.due = true;
    requestAnimationFrame(() => {
      this.due = false;
      if (!this.element.isConnected) return;
      const from = performance.now();
      const series = this.series();
      series.settle();
      this.fit(series);
      this.draw(series);
      this.canvas.dataset.frameMs = (performance.now() - from).toFixed(2);
    });
  }

  // The frame that is in sight, and its scales.
  frame() {
    for (const one of this.element.querySelectorAll("[data-frame]")) {
      if (one.getClientRects().length === 0) continue;
      if (this.read?.element !== one) {
        this.read = { element: one, scales: JSON.parse(one.dataset.frame) };
      }
      return this.read;
    }
    return undefined;
  }

  // Asks for another frame where the readings, or what is looked at, have outgrown this one.
  fit(series) {
    const frame = this.frame();
    if (!frame) return;
    const want = this.wanted(series, frame.scales);
    const key = JSON.stringify(want);
    if (key === this.key || (this.key === "" && key === JSON.stringify(this.asked))) return;
    const wait = this.fetched + BETWEEN_FETCHES_MS - performance.now();
    if (this.fetching) return;
    if (wait > 0) {
      clearTimeout(this.later);
      this.later = setTimeout(() => this.wake(), wait);
      return;
    }
    this.fetch(want, key);
  }

  wanted(series, scales) {
    const { asked } = this;
    const want = { ...asked, test: undefined, from_s: 0, to_s: undefined };
    if (this.span) {
      const step = this.span / 10;
      const end = this.end ?? series.newest();
      const to = Math.max(this.span, (Math.floor(end / step) + 1) * step);
      want.from_s = Math.max(0, to - this.span);
      want.to_s = to;
    } else {
      const planned = Number(this.element.dataset.plannedS);
      const now = series.newest();
      const enough = asked.to_s > now && !asked.from_s;
      if (enough && asked.to_s > planned) want.to_s = asked.to_s;
      else if (now > planned) want.to_s = now * ROOM;
    }
    if (series.highest > scales.kv.to) want.kv = series.highest * 1.1;
    const log = Math.log10;
    if (series.most > 0 && (log(series.most) > scales.ua.to || log(series.least) < scales.ua.from)) {
      want.least = series.least;
      want.most = series.most;
    }
    const resistance = Number(this.element.dataset.resistanceKv);
    const beyond = series.highest > resistance * 1.1;
    want.test = this.test === "resistance" && !beyond ? "resistance" : undefined;
    return want;
  }

  async fetch(want, key) {
    this.fetching = true;
    this.fetched = performance.now();
    const { dataset } = this.element;
    const query = new URLSearchParams({
      conductor: dataset.conductor,
      test: want.test ?? "steps",
      from_s: want.from_s,
      kv: want.kv,
    });
    if (want.to_s) query.set("to_s", want.to_s);
    if (want.most) {
      query.set("least_ua", want.least);
      query.set("most_ua", want.most);
    }
    try {
      const answer = await fetch(`/sheet/${dataset.chart}/chart?${query}`);
      if (answer.ok) {
        const text = await answer.text();
        const page = new DOMParser().parseFromString(text, "text/html");
        const frames = document.adoptNode(page.querySelector(".frames"));
        this.element.querySelector(".frames").replaceWith(frames);
        this.asked = want;
        this.key = key;
        this.read = undefined;
      }
    } catch {
      // The frame in place still holds; the next points ask again.
    } finally {
      this.fetching = false;
      this.wake();
    }
  }

  // The canvas has as many points as the screen has under it; drawn is in units of the frame.
  prepare({ scales }) {
    const { canvas, context } = this;
    const box = canvas.getBoundingClientRect();
    const density = window.devicePixelRatio || 1;
    const width = Math.round(box.width * density);
    const height = Math.round(box.height * density);
    if (canvas.width !== width || canvas.height !== height) {
      canvas.width = width;
      canvas.height = height;
    }
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, width, height);
    const unit = width / scales.width;
    context.setTransform(unit, 0, 0, height / scales.height, 0, 0);
    return unit;
  }

  draw(series) {
    const frame = this.frame();
    if (!frame) return;
    const { scales } = frame;
    const unit = this.prepare(frame);
    const style = getComputedStyle(this.element);
    const pen = {
      read: style.getPropertyValue("--read").trim() || "#0072b2",
      ink: style.getPropertyValue("--ink").trim() || "#000000",
      paper: style.getPropertyValue("--paper").trim() || "#ffffff",
    };
    const first = series.since(scales.time_s.from);
    const last = series.since(scales.time_s.to + 1e-9);
    this.canvas.dataset.points = series.count;
    this.canvas.dataset.pointsInView = last - first;
    const columns = Math.max(1, Math.round((scales.time_s.end - scales.time_s.start) * unit));
    const part = { series, scales, first, last, columns, pen, unit };
    const shown = last - first;
    this.ahead(part);
    for (const [values, extremes, scale, width] of [
      [series.kv, series.ofKv, scales.kv, 2.2],
      [series.ua, series.ofUa, scales.ua, 1.4],
    ]) {
      this.context.strokeStyle = pen.read;
      this.context.fillStyle = pen.read;
      this.context.lineWidth = width;
      if (shown > columns * LINE_PER_PX) this.spans(part, values, extremes, scale);
      else this.line(part, values, scale, shown * DOT_PX < columns);
    }
    this.odd(part);
    if (shown * DOT_PX < columns) this.late(part);
    this.struck(part);
    this.names(part);
  }

  // What is expected from now on by the readings so far: hatched between its ends, so that it stays
  // apart from the plan's band in grey too, with its middle as a line.
  ahead({ scales, pen }) {
    if (expectedNow?.conductor !== this.conductor) return;
    const { t_s, low_ua, mid_ua, high_ua } = expectedNow;
    const { context } = this;
    const x = (at) => scales.time_s.start + this.along(scales, t_s[at]);
    const y = (column, at) => place(scales.ua, Math.max(column[at], Number.MIN_VALUE));
    const all = t_s.map((_, at) => at);
    context.save();
    this.clip(scales);
    context.beginPath();
    all.forEach((at) => context.lineTo(x(at), y(high_ua, at)));
    [...all].reverse().forEach((at) => context.lineTo(x(at), y(low_ua, at)));
    context.closePath();
    context.strokeStyle = pen.ink;
    context.lineWidth = 0.8;
    context.stroke();
    context.clip();
    const from = x(0);
    const to = x(all.length - 1);
    const { start: foot, end: head } = scales.ua;
    context.beginPath();
    for (let at = from - (foot - head); at < to; at += 6) {
      stroke(context, [at, foot], [at + foot - head, head]);
    }
    context.stroke();
    context.restore();
    context.save();
    this.clip(scales);
    context.beginPath();
    all.forEach((at) => context.lineTo(x(at), y(mid_ua, at)));
    context.strokeStyle = pen.ink;
    context.lineWidth = 1.6;
    context.stroke();
    // Named over its end, where the names of the frame do not stand.
    context.fillStyle = pen.ink;
    context.font = `700 ${scales.font}px system-ui, "DejaVu Sans", sans-serif`;
    context.textAlign = "right";
    const last = all.length - 1;
    const right = Math.min(x(last), scales.time_s.end) - 2;
    const above = Math.max(y(high_ua, 0), head + scales.font * 2) - scales.font * 0.5;
    context.fillText(this.element.dataset.expectedNow, Math.max(right, scales.time_s.start + 90), above);
    context.restore();
  }

  // A line through each point, broken where nothing was read and where a meter changed its range.
  line({ series, scales, first, last }, values, scale, dots) {
    const { context } = this;
    const from = Math.max(0, first - 1);
    const to = Math.min(series.count, last + 1);
    context.save();
    this.clip(scales);
    context.beginPath();
    let open = false;
    for (let at = from; at < to; at += 1) {
      const value = values[at];
      if (Number.isNaN(value) || (scale.logarithmic && !(value > 0))) {
        open = false;
        continue;
      }
      const x = scales.time_s.start + this.along(scales, series.t_s[at]);
      const y = place(scale, value);
      if (open && !(series.odd[at] & ODD_RANGE)) context.lineTo(x, y);
      else context.moveTo(x, y);
      open = true;
    }
    context.stroke();
    context.restore();
    if (!dots) return;
    for (let at = first; at < last; at += 1) {
      const value = values[at];
      if (Number.isNaN(value) || (scale.logarithmic && !(value > 0))) continue;
      this.dot(place(scales.time_s, series.t_s[at]), place(scale, value), 2.4);
    }
  }

  // From the left edge, within the panel or beyond it.
  along(scales, t_s) {
    const { from, to, start, end } = scales.time_s;
    return ((t_s - from) / (to - from)) * (end - start);
  }

  clip(scales) {
    const { start, end } = scales.time_s;
    const { context } = this;
    context.beginPath();
    context.rect(start - 3, 0, end - start + 6, scales.height);
    context.clip();
  }

  // One upright stroke for each column of the screen, from the least to the greatest in it and to
  // where the one before ended.
  spans({ series, scales, first, last, columns }, values, extremes, scale) {
    const { context } = this;
    const { from, to, start, end } = scales.time_s;
    const wide = (end - start) / columns;
    const foot = scale.start;
    context.lineWidth = Math.max(context.lineWidth, wide);
    context.beginPath();
    let at = first;
    let before;
    for (let column = 0; column < columns && at < last; column += 1) {
      const until = from + ((to - from) * (column + 1)) / columns;
      const next = column === columns - 1 ? last : series.since(until, at);
      if (next === at) continue;
      const [min, max] = extremes.between(values, at, next, outOf);
      if (series.changesRange(at, next)) before = undefined;
      at = next;
      if (min > max || (scale.logarithmic && max <= 0)) {
        before = undefined;
        continue;
      }
      let low = scale.logarithmic && min <= 0 ? foot : place(scale, min);
      let high = place(scale, max);
      const held = { low, high };
      if (before) {
        low = Math.max(low, before.high);
        high = Math.min(high, before.low);
      }
      const x = start + (column + 0.5) * wide;
      context.moveTo(x, low + 0.4);
      context.lineTo(x, high - 0.4);
      before = held;
    }
    context.stroke();
  }

  dot(x, y, radius) {
    const { context } = this;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fill();
  }

  // A cross at the head where a meter was over its range, an open triangle at the foot where zero
  // or less was read, a tick at the foot where nothing was, two strokes at the head where a meter
  // went to another range; of many alike on end the first says it.
  odd({ series, scales, first, last, pen }) {
    const { context } = this;
    context.strokeStyle = pen.ink;
    context.lineWidth = 1.2;
    context.beginPath();
    const { start: foot, end: head } = scales.ua;
    const many = last - first > 120;
    let before = { kind: 0, at: -2 };
    for (let one = lower(series.oddAt, first); one < series.oddAt.length; one += 1) {
      const at = series.oddAt[one];
      if (at >= last) break;
      const x = place(scales.time_s, series.t_s[at]);
      if (series.odd[at] & ODD_RANGE) {
        stroke(context, [x - 4, head + 2], [x - 4, head + 11]);
        stroke(context, [x - 1, head + 2], [x - 1, head + 11]);
      }
      const kind = series.odd[at] & ~ODD_RANGE;
      if (!kind) continue;
      const again = many && kind === before.kind && at === before.at + 1;
      before = { kind, at };
      if (again) continue;
      if (kind === ODD_OVER) {
        stroke(context, [x - 4, head + 2], [x + 4, head + 10]);
        stroke(context, [x - 4, head + 10], [x + 4, head + 2]);
      } else if (kind === ODD_UNREAD) stroke(context, [x, foot], [x, foot - 8]);
      else {
        stroke(context, [x - 4, foot - 8], [x + 4, foot - 8], [x, foot - 1], [x - 4, foot - 8]);
      }
    }
    context.stroke();
  }

  // A ring round what came later at the last level than a hand may be.
  late({ series, scales, first, last, pen }) {
    if (!scales.late_s) return;
    const { context } = this;
    context.strokeStyle = pen.ink;
    context.lineWidth = 1.2;
    let before;
    for (let at = Math.max(0, first - 1); at < last; at += 1) {
      if (Math.abs(series.kv[at] / scales.level_kv - 1) > AT_LEVEL) continue;
      if (Number.isNaN(series.kv[at])) continue;
      const t_s = series.t_s[at];
      if (before !== undefined && t_s - before > scales.late_s && at >= first) {
        const ua = series.ua[at];
        const y = ua > 0 ? place(scales.ua, ua) : place(scales.kv, series.kv[at]);
        ring(context, place(scales.time_s, t_s), y, 5);
      }
      before = t_s;
    }
  }

  // Struck through where a reading was withdrawn.
  struck({ series, scales, pen }) {
    const { context } = this;
    context.strokeStyle = pen.ink;
    context.lineWidth = 1.2;
    for (const { t_s, kv, ua } of series.withdrawn.values()) {
      if (t_s < scales.time_s.from || t_s > scales.time_s.to) continue;
      const x = place(scales.time_s, t_s);
      for (const [value, scale] of [
        [kv, scales.kv],
        [ua, scales.ua],
      ]) {
        if (Number.isNaN(value) || (scale.logarithmic && !(value > 0))) continue;
        const y = place(scale, value);
        ring(context, x, y, 2.8);
        context.beginPath();
        stroke(context, [x - 6, y + 6], [x + 6, y - 6]);
        context.stroke();
      }
    }
  }

  // The line of readings is named where it ends, clear of the names that stand there.
  names({ series, scales, first, last, pen }) {
    const { context } = this;
    context.fillStyle = pen.read;
    context.font = `700 ${scales.font}px system-ui, "DejaVu Sans", sans-serif`;
    const gap = scales.font * 1.1;
    for (const [values, scale, taken] of [
      [series.kv, scales.kv, scales.kv_names],
      [series.ua, scales.ua, scales.ua_names],
    ]) {
      let at = last - 1;
      const bad = (value) => Number.isNaN(value) || (scale.logarithmic && !(value > 0));
      while (at >= first && bad(values[at])) at -= 1;
      if (at < first) continue;
      const y = free(place(scale, values[at]), taken, gap, scale);
      context.fillText(this.element.dataset.read, scales.time_s.end + 6, y + scales.font / 3);
    }
  }
}

// The place nearest to `y` that no other name takes.
function free(y, taken, gap, scale) {
  // What stands a gap away is clear, also where its sum has lost its last bit.
  const clear = (one) => taken.every((other) => Math.abs(other - one) > gap - 1e-6);
  const inside = (one) => one <= scale.start && one >= scale.end - gap / 2;
  const places = [y, ...taken.flatMap((one) => [one - gap, one + gap])];
  const good = places.filter((one) => clear(one) && inside(one));
  good.sort((one, other) => Math.abs(one - y) - Math.abs(other - y));
  return good[0] ?? y;
}

function lower(sorted, value) {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle] < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

function stroke(context, [x, y], ...rest) {
  context.moveTo(x, y);
  for (const [nextX, nextY] of rest) context.lineTo(nextX, nextY);
}

function ring(context, x, y, radius) {
  context.beginPath();
  context.arc(x, y, radius, 0, 2 * Math.PI);
  context.stroke();
}

// What is expected from now on, as the newest words have it.
let expectedNow;

document.addEventListener("scene", ({ detail }) => {
  const ahead = detail.scene?.ahead ?? undefined;
  if (JSON.stringify(ahead) === JSON.stringify(expectedNow)) return;
  expectedNow = ahead;
  figures.forEach((figure) => figure.wake());
});

// Every chart that is on the page now.
export function attach() {
  for (const figure of figures) {
    if (figure.element.isConnected) continue;
    figure.gone();
    figures.delete(figure);
  }
  const known = new Set([...figures].map((figure) => figure.element));
  for (const element of document.querySelectorAll("figure[data-chart]")) {
    if (!known.has(element)) figures.add(new Figure(element));
  }
}

document.addEventListener("points", ({ detail }) => takePoints(detail));
document.addEventListener("refill", forget);
document.addEventListener("swapped", attach);
new MutationObserver(() => figures.forEach((figure) => figure.wake())).observe(
  document.documentElement,
  { attributeFilter: ["data-theme"] },
);
attach();
