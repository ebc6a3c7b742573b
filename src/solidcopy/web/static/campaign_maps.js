// Maps: cells that fill while the campaign runs, and the thresholds along the map.
import { element, sheet } from "/static/campaign_tables.js";
import { plot } from "/static/plot.js";
import { rangeOf } from "/static/plot_scale.js";

const HEIGHT = 300;
const LOOKS = [0, 1, 3, 5, 6, 7];
const BEYOND = { above: 2, below: 4 };
const places = new Map();

function placeOf(map) {
  if (!places.has(map.condition)) {
    const made = {
      section: element("section"),
      cells: map.heard.map(() => element("div")),
      thresholds: element("div"),
      table: element("details"),
    };
    const head = element("h2", `Map of ${map.condition}`);
    head.id = `map-${places.size}`;
    made.section.setAttribute("aria-labelledby", head.id);
    const boxes = map.heard.map((heard, k) => {
      const box = element("div");
      const said = map.heard.length > 1 ? `, heard by ${heard.receiver}` : "";
      box.append(element("h3", `Share of messages decoded${said}`), made.cells[k]);
      return box;
    });
    const along = element("div");
    along.append(element("h3", "Where half and 90 % get through"), made.thresholds);
    made.section.append(head, ...boxes, along, made.table);
    places.set(map.condition, made);
    document.getElementById("maps").append(made.section);
  }
  return places.get(map.condition);
}

// Each axis value is a row of cells, the highest first, so that the arrow keys follow the picture.
function rowsOf(cells) {
  const rows = new Map();
  for (const cell of cells) {
    rows.set(cell.axis_value, [...(rows.get(cell.axis_value) ?? []), cell]);
  }
  return [...rows.values()].sort((a, b) => b[0].y[0] - a[0].y[0]);
}

const middle = ([low, high]) => (low + high) / 2;
// Both pictures of a map have the same axis across, so that one stands below the other.
function across(map) {
  const edges = map.heard[0].cells.flatMap((cell) => cell.x);
  return { label: map.label, min: Math.min(...edges), max: Math.max(...edges) };
}
const width = ([low, high]) => Math.abs(high - low);

function showCells(host, map, heard, results, campaign, pick) {
  const { cells } = heard;
  const ys = cells.flatMap((cell) => cell.y);
  plot(host, {
    name: `Share of messages decoded, over ${map.label} and ${results.axis.label}, heard by ${heard.receiver}`,
    x: across(map),
    height: HEIGHT,
    y: { label: results.axis.label, min: Math.min(...ys), max: Math.max(...ys) },
    series: rowsOf(cells).map((row) => ({
      name: "",
      kind: "cells",
      look: 0,
      x: row.map((cell) => middle(cell.x)),
      y: row.map((cell) => middle(cell.y)),
      w: row.map((cell) => width(cell.x)),
      h: row.map((cell) => width(cell.y)),
      value: row.map((cell) => cell.share),
      text: row.map((cell) => (cell.n_answered ? `${cell.n_decoded}/${cell.n_answered}` : "")),
      words: row.map((cell) => cell.words),
      picks: row.map((cell) => ({ condition: cell.condition, receiver: heard.receiver, axisValue: cell.axis_value })),
    })),
    onPick: (row, k) => pick(campaign, row.picks[k]),
  });
}

function known(name, look, map, thresholds) {
  const at = thresholds.map((threshold, k) => ({ ...threshold, value: map.values[k] })).filter((one) => one.x !== null);
  return {
    name,
    kind: "points",
    look,
    x: at.map((one) => one.value),
    y: at.map((one) => one.x),
    low: at.map((one) => one.low),
    high: at.map((one) => one.high),
    words: at.map((one) => `${name}, ${map.label} ${one.value}: ${one.words}`),
  };
}

function joined(name, look, map, thresholds) {
  return { name, kind: "line", look, x: map.values, y: thresholds.map((threshold) => threshold.x ?? NaN) };
}

function beyond(side, map, sets) {
  const at = sets.flatMap(([name, thresholds]) =>
    thresholds.map((one, k) => ({ ...one, name, value: map.values[k] })).filter((one) => one.x === null && one.bound === side && one.limit !== null),
  );
  return {
    name: side === "above" ? "only known: it lies higher" : "only known: it lies lower",
    kind: "points",
    look: BEYOND[side],
    x: at.map((one) => one.value),
    y: at.map((one) => one.limit),
    words: at.map((one) => `${one.name}, ${map.label} ${one.value}: ${one.words}`),
  };
}

function showThresholds(host, map, results) {
  const said = (heard, share) => (map.heard.length > 1 ? `${share}, ${heard.receiver}` : share);
  const sets = map.heard.flatMap((heard) => [[said(heard, "50 % decoded"), heard.half], [said(heard, "90 % decoded"), heard.most]]);
  const series = sets.flatMap(([name, thresholds], k) => {
    const look = LOOKS[k % LOOKS.length];
    return [joined(name, look, map, thresholds), known(name, look, map, thresholds)];
  });
  const bounds = ["above", "below"].map((side) => beyond(side, map, sets)).filter((one) => one.x.length);
  const ys = [...series, ...bounds].flatMap((one) => [...(one.low ?? []), ...(one.high ?? []), ...one.y]);
  const range = rangeOf([...ys, ...results.axis.x]);
  const all = [...series, ...bounds];
  if (map.signal_band) {
    const [x0, x1] = map.signal_band;
    all.unshift({ name: "", kind: "boxes", look: 6, x0: [x0], x1: [x1], y0: [range.min], y1: [range.max], text: ["wanted signal"] });
  }
  plot(host, {
    name: `Thresholds along ${map.label}, in ${results.axis.label}. Error bars: 95 %.`,
    x: across(map),
    height: HEIGHT,
    y: { label: results.axis.label, ...range },
    series: all,
    legend: true,
  });
}

export function showMaps(campaign, results, pick) {
  for (const map of results.maps) {
    const place = placeOf(map);
    map.heard.forEach((heard, k) => showCells(place.cells[k], map, heard, results, campaign, pick));
    showThresholds(place.thresholds, map, results);
    const summary = element("summary", "All numbers of the map");
    place.table.replaceChildren(summary, sheet(map.sheet));
  }
}
