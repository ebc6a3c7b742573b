// A chart in SVG: axes, series of marks, a legend that shows and hides them, and marks that can be
// picked by pointer or keyboard (arrows move from mark to mark, Enter picks).
import { LOOKS, MARKS, PICKED, marker, svg } from "/static/plot_marks.js";
import { scaleOf } from "/static/plot_scale.js";

export const ROOM = { left: 62, right: 16, top: 12, bottom: 46 };
const SHARE_OF_WIDTH = 0.5;
const [LEAST_HEIGHT, MOST_HEIGHT] = [220, 420];
const PIXELS_A_TICK = { x: 80, y: 45 };

const drawn = new WeakMap();

// Draws `figure` in `host`; called again it draws anew, and keeps the focus and what was hidden.
//
// figure: { name, x: axis, y: axis, series: [series], legend, height, onPick(series, index) }
// axis: { label, min, max, log, ticks, format }
// series: { name, kind, look, words, hidden } and by kind
//   line: x, y · band: x, low, high · points: x, y, low, high (bars of error) · bars: x, y, w
//   cells: x, y, w, h, value (0 to 1 or null), text · rules: x, y, text (lines across)
//   boxes: x0, x1, y0, y1, text (outlines) · image: href, x0, x1, y0, y1
// `words`: one sentence for each mark, told on pointing and to screen readers.
export function plot(host, figure) {
  const known = drawn.get(host);
  if (known) {
    known.figure = figure;
    return draw(host, known);
  }
  const state = { figure, hidden: new Set(), at: null, id: `clip-${document.querySelectorAll("svg").length}` };
  drawn.set(host, state);
  host.classList.add("plot");
  new ResizeObserver(() => {
    if (Math.abs(host.clientWidth - (state.width ?? 0)) > 1) draw(host, state);
  }).observe(host);
  draw(host, state);
}

function draw(host, state) {
  const { figure } = state;
  const hadFocus = host.contains(document.activeElement) && document.activeElement.closest("svg");
  state.width = host.clientWidth || 640;
  const height = figure.height ?? Math.min(MOST_HEIGHT, Math.max(LEAST_HEIGHT, state.width * SHARE_OF_WIDTH));
  const box = { left: ROOM.left, right: state.width - ROOM.right, top: ROOM.top, bottom: height - ROOM.bottom };
  const x = scaleOf(figure.x, box.left, box.right, Math.max(2, (box.right - box.left) / PIXELS_A_TICK.x));
  const y = scaleOf(figure.y, box.bottom, box.top, Math.max(2, (box.bottom - box.top) / PIXELS_A_TICK.y));
  const shown = figure.series.filter((series) => !series.hidden && !state.hidden.has(series.name));
  const body = svg("g", { "clip-path": `url(#${state.id})` });
  const picture = svg(
    "svg",
    { width: state.width, height, role: figure.onPick ? "group" : "img", "aria-label": figure.name },
    svg("clipPath", { id: state.id }, svg("rect", { x: box.left, y: box.top - 6, width: box.right - box.left, height: box.bottom - box.top + 12 })),
    ...axes(figure, { x, y, box }),
    body,
  );
  const words = document.createElement("p");
  words.className = "plot-words";
  words.setAttribute("aria-live", "polite");
  const marks = shown.map((series) => layer(series, { x, y, box, figure, words }));
  body.append(...marks.map((made) => made.group));
  const parts = [picture, words];
  if (figure.legend) parts.push(legend(host, state));
  host.replaceChildren(...parts);
  const rows = marks.map((made) => made.picks).filter((picks) => picks.length);
  if (rows.length) roam(picture, rows, state, hadFocus);
}

function axes(figure, { x, y, box }) {
  const grid = [
    ...x.ticks.map((value) => `M${x.place(value)},${box.top}V${box.bottom}`),
    ...y.ticks.map((value) => `M${box.left},${y.place(value)}H${box.right}`),
  ].join("");
  const middle = { x: (box.left + box.right) / 2, y: (box.top + box.bottom) / 2 };
  return [
    svg("path", { d: grid, class: "grid" }),
    svg("path", { d: `M${box.left},${box.top}V${box.bottom}H${box.right}`, class: "axis" }),
    ...x.ticks.map((v) => svg("text", { x: x.place(v), y: box.bottom + 17, class: "tick" }, x.words(v))),
    ...y.ticks.map((v) => svg("text", { x: box.left - 8, y: y.place(v) + 4, class: "tick side" }, y.words(v))),
    svg("text", { x: middle.x, y: box.bottom + 38, class: "axis-name" }, figure.x.label),
    svg("text", { x: 14, y: middle.y, class: "axis-name", transform: `rotate(-90,14,${middle.y})` }, figure.y.label),
  ];
}

// One series as a group; `picks` are its marks that can be picked or read, in order.
function layer(series, { x, y, box, figure, words }) {
  const made = MARKS[series.kind](series, { x, y, box });
  const group = svg("g", { class: `series look-${(series.look ?? 0) % LOOKS}` }, ...made);
  if (!series.words || !PICKED.has(series.kind)) return { group, picks: [] };
  made.forEach((mark, k) => {
    const tell = () => (words.textContent = series.words[k]);
    mark.addEventListener("pointerenter", tell);
    mark.addEventListener("focus", tell);
    mark.setAttribute("aria-label", series.words[k]);
    mark.setAttribute("role", figure.onPick ? "button" : "img");
    if (!figure.onPick) return;
    mark.classList.add("pick");
    mark.addEventListener("click", () => figure.onPick(series, k));
    mark.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      figure.onPick(series, k);
    });
  });
  return { group, picks: figure.onPick ? made : [] };
}

// One stop of the Tab key; the arrows move along a series and between series.
function roam(picture, rows, state, hadFocus) {
  const inside = (value, length) => Math.min(Math.max(value, 0), length - 1);
  const go = (row, column, isFocused) => {
    const r = inside(row, rows.length);
    const c = inside(column, rows[r].length);
    rows.flat().forEach((mark) => mark.setAttribute("tabindex", -1));
    rows[r][c].setAttribute("tabindex", 0);
    if (isFocused) rows[r][c].focus();
    state.at = [r, c];
  };
  rows.forEach((marks, r) =>
    marks.forEach((mark, c) => {
      mark.addEventListener("focus", () => (state.at = [r, c]));
      mark.addEventListener("keydown", (event) => {
        const [dr, dc] = { ArrowRight: [0, 1], ArrowLeft: [0, -1], ArrowDown: [1, 0], ArrowUp: [-1, 0] }[event.key] ?? [0, 0];
        if (!dr && !dc) return;
        event.preventDefault();
        go(r + dr, c + dc, true);
      });
    }),
  );
  go(...(state.at ?? [0, 0]), hadFocus);
}

function legend(host, state) {
  const list = document.createElement("ul");
  list.className = "legend";
  const names = new Map();
  for (const { name, look = 0, kind, hidden } of state.figure.series) {
    if (hidden || !name) continue;
    const known = names.get(name) ?? { look, hasMarker: false };
    names.set(name, { ...known, hasMarker: known.hasMarker || kind === "points" });
  }
  for (const [name, { look, hasMarker }] of names) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain";
    button.setAttribute("aria-pressed", String(!state.hidden.has(name)));
    const sample = svg("g", { transform: "translate(14,8)", class: `series look-${look % LOOKS}` }, svg("path", { d: "M-14,0H14", class: "line" }));
    if (hasMarker) sample.append(marker(look));
    button.append(svg("svg", { width: 28, height: 16, "aria-hidden": "true" }, sample), ` ${name}`);
    button.addEventListener("click", () => {
      if (!state.hidden.delete(name)) state.hidden.add(name);
      draw(host, state);
      [...host.querySelectorAll(".legend button")].find((one) => one.textContent.trim() === name)?.focus();
    });
    const item = document.createElement("li");
    item.append(button);
    list.append(item);
  }
  return list;
}
