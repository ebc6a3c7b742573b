// The marks of a series: a colour, a dash and a marker shape belong together (its look).

const SVG = "http://www.w3.org/2000/svg";
const MARKER = 5;
const SHAPES = [
  (r) => `M${-r},0A${r},${r} 0 1 1 ${r},0A${r},${r} 0 1 1 ${-r},0Z`,
  (r) => `M${-r},${-r}H${r}V${r}H${-r}Z`,
  (r) => `M0,${-1.2 * r}L${1.15 * r},${0.9 * r}H${-1.15 * r}Z`,
  (r) => `M0,${-1.3 * r}L${1.3 * r},0L0,${1.3 * r}L${-1.3 * r},0Z`,
  (r) => `M0,${1.2 * r}L${1.15 * r},${-0.9 * r}H${-1.15 * r}Z`,
  (r) => `M${-r},${-0.4 * r}H${-0.4 * r}V${-r}H${0.4 * r}V${-0.4 * r}H${r}V${0.4 * r}H${0.4 * r}V${r}H${-0.4 * r}V${0.4 * r}H${-r}Z`,
  (r) => `M${-0.5 * r},${-r}H${0.5 * r}V${r}H${-0.5 * r}Z`,
  (r) => `M${-r},${-0.5 * r}H${r}V${0.5 * r}H${-r}Z`,
];
export const LOOKS = SHAPES.length;

export function svg(kind, attributes = {}, ...inside) {
  const made = document.createElementNS(SVG, kind);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== undefined && value !== null) made.setAttribute(name, value);
  }
  made.append(...inside);
  return made;
}

export function marker(look, radius = MARKER) {
  return svg("path", { d: SHAPES[look % LOOKS](radius), class: "marker" });
}

const round = (value) => Math.round(value * 100) / 100;

function pathOf(xs, ys, x, y) {
  let isDown = false;
  return xs
    .map((value, k) => {
      if (!Number.isFinite(ys[k])) return (isDown = false), "";
      const step = `${isDown ? "L" : "M"}${round(x.place(value))},${round(y.place(ys[k]))}`;
      isDown = true;
      return step;
    })
    .join("");
}

function line(series, { x, y }) {
  return [svg("path", { d: pathOf(series.x, series.y, x, y), class: "line" })];
}

function band(series, { x, y }) {
  const there = pathOf(series.x, series.low, x, y);
  const back = pathOf([...series.x].reverse(), [...series.high].reverse(), x, y).replace(/^M/, "L");
  return [svg("path", { d: `${there}${back}Z`, class: "band" })];
}

function points(series, { x, y }) {
  return series.x.map((value, k) => {
    const [left, top] = [round(x.place(value)), round(y.place(series.y[k]))];
    const made = svg("g", { transform: `translate(${left},${top})` });
    if (series.low) {
      const [low, high] = [series.low[k], series.high[k]].map((v) => round(y.place(v) - top));
      made.append(svg("path", { d: `M0,${low}V${high}M-3,${low}H3M-3,${high}H3`, class: "error" }));
    }
    made.append(marker(series.look));
    return made;
  });
}

function bars(series, { x, y, box }) {
  return series.x.map((value, k) => {
    const [from, to] = [x.place(value - series.w / 2), x.place(value + series.w / 2)];
    const top = y.place(series.y[k]);
    return svg("rect", { x: from, width: Math.max(to - from - 1, 1), y: top, height: Math.max(box.bottom - top, 0), class: "bar" });
  });
}

// `w` and `h` are numbers, or lists where cells differ in size. `value` 0 to 1 tints a cell; null is "not tried yet" and stays empty. `text` is written into it.
function cells(series, { x, y }) {
  const sizeOf = (size, k) => (Array.isArray(size) ? size[k] : size);
  return series.x.map((value, k) => {
    const [w, h] = [sizeOf(series.w, k), sizeOf(series.h, k)];
    const [left, right] = [x.place(value - w / 2), x.place(value + w / 2)].sort((a, b) => a - b);
    const [top, bottom] = [y.place(series.y[k] + h / 2), y.place(series.y[k] - h / 2)].sort((a, b) => a - b);
    const known = series.value[k] !== null;
    const made = svg("g", {}, svg("rect", {
      x: left + 1, y: top + 1, width: Math.max(right - left - 2, 1), height: Math.max(bottom - top - 2, 1),
      class: known ? "cell" : "cell untried", "fill-opacity": known ? 0.06 + 0.54 * series.value[k] : 0,
    }));
    const text = series.text?.[k];
    if (text && text.length * 7.5 < right - left && bottom - top > 14) {
      made.append(svg("text", { x: (left + right) / 2, y: (top + bottom) / 2, class: "cell-text" }, text));
    }
    return made;
  });
}

// Upright lines at `x`, or level ones at `y`.
function rules(series, { x, y, box }) {
  const upright = series.x.map((value) => `M${round(x.place(value))},${box.top}V${box.bottom}`);
  const level = (series.y ?? []).map((value) => `M${box.left},${round(y.place(value))}H${box.right}`);
  const texts = (series.text ?? []).map((words, k) =>
    svg("text", { x: round(x.place(series.x[k])) + 4, y: box.top + 12 + 13 * (k % 3), class: "mark-text" }, words),
  );
  return [svg("path", { d: [...upright, ...level].join(""), class: "rule" }), ...texts];
}

function boxes(series, { x, y, box }) {
  return series.x0.map((_, k) => {
    const [left, right] = [x.place(series.x0[k]), x.place(series.x1[k])];
    const [top, bottom] = [y.place(series.y1[k]), y.place(series.y0[k])];
    const made = svg("g", {}, svg("rect", { x: left, y: top, width: Math.max(right - left, 1), height: Math.max(bottom - top, 1), class: "outline" }));
    const words = series.text?.[k];
    if (words) made.append(svg("text", { x: left + 4, y: Math.max(top - 4, box.top + 12), class: "mark-text" }, words));
    return made;
  });
}

function image(series, { x, y }) {
  const [left, right, top, bottom] = [x.place(series.x0), x.place(series.x1), y.place(series.y1), y.place(series.y0)];
  return [svg("image", { href: series.href, x: left, y: top, width: right - left, height: bottom - top, preserveAspectRatio: "none", class: "image" })];
}

export const MARKS = { line, band, points, bars, cells, rules, boxes, image };
export const PICKED = new Set(["points", "cells", "bars", "boxes"]);
