// Pictures of one slot: over time and frequency, symbols, waveform, spectrum.
import { ROOM, plot } from "/static/plot.js";
import { SUM, lookOf, part } from "/static/trial_parts.js";

const HIGHEST_HZ = 3000;
const NEAR_HEIGHT = 240;
const N_SHADES = 12;
const MARGIN_DB = 20;
const [MOST_INSTANTS, MOST_SYMBOLS] = [40, 2];
const [MOST_OUTLINED, SHORT_SHARE, EDGE_SHARE] = [40, 0.1, 0.05];
const BELOW_SHADES_DB = 12;
const [RIGHT, WRONG, COSTAS_RIGHT, COSTAS_WRONG] = [2, 1, 4, 3];
const time = (view) => ({ label: "Time in the slot, s", min: 0, max: view.slot_s });

export function drawPictures(view) {
  const shades = shadesOfPage();
  const names = view.sources.filter((source) => source.outlines.length).map((source) => `${source.name}: ${source.place}`);
  plot(part("wide"), {
    name: `Power over time and frequency, 0 to 3000 Hz, with outlines. ${names.join("; ")}`,
    x: time(view),
    y: { label: "Frequency, Hz", min: 0, max: HIGHEST_HZ },
    series: [image(view.wide, shades), ...outlines(view, HIGHEST_HZ, HIGHEST_HZ)],
    legend: true,
  });
  plot(part("near"), {
    name: "The same around the wanted signal, finer",
    x: time(view),
    y: { label: "Frequency, Hz", min: view.near.low_hz, max: view.near.high_hz },
    series: [image(view.near, shades), ...outlines(view, view.near.high_hz, view.near.high_hz - view.near.low_hz)],
    legend: false,
    height: NEAR_HEIGHT,
  });
  const [low, high] = [view.wide.lowest_db, view.wide.highest_db].map((level) => `${Math.round(level)}`.replace("-", "−"));
  part("shades").textContent = `Shades: nothing at ${low} dBFS in 1 Hz and below, full at ${high} dBFS. The same scale whatever is muted.`;
  drawWaveform(view);
  drawSpectrum(view);
}

// From paper to ink, more power farther from the paper in both schemes; colours are the outlines'.
function shadesOfPage() {
  const style = getComputedStyle(document.documentElement);
  const colour = (name) => {
    const hex = style.getPropertyValue(name).trim().slice(1);
    return [0, 2, 4].map((at) => parseInt(hex.slice(at, at + 2), 16));
  };
  const stops = [colour("--paper"), colour("--soft"), colour("--ink")];
  return Array.from({ length: 256 }, (_, level) => {
    const at = (Math.round((level / 255) * N_SHADES) / N_SHADES) * (stops.length - 1);
    const below = Math.min(Math.floor(at), stops.length - 2);
    return stops[below].map((value, k) => value + (at - below) * (stops[below + 1][k] - value));
  });
}

function image(picture, shades) {
  const bytes = Uint8Array.from(atob(picture.levels), (letter) => letter.charCodeAt(0));
  const canvas = document.createElement("canvas");
  canvas.width = picture.n_times;
  canvas.height = picture.n_frequencies;
  const context = canvas.getContext("2d");
  const pixels = context.createImageData(canvas.width, canvas.height);
  bytes.forEach((level, k) => {
    pixels.data.set(shades[level], 4 * k);
    pixels.data[4 * k + 3] = 255;
  });
  context.putImageData(pixels, 0, 0);
  return { kind: "image", href: canvas.toDataURL(), x0: picture.from_s, x1: picture.to_s, y0: picture.low_hz, y1: picture.high_hz };
}

// The wanted signal last, so that it lies on top. Many short ones would hide what they outline: they
// become marks along the upper edge of the picture, which ends at `high` and is `span` high.
function outlines(view, high, span) {
  return [...view.sources.slice(1), view.sources[0]]
    .filter((source) => source.outlines.length && !source.is_muted)
    .map((source) => {
      const of = (name) => source.outlines.map((outline) => outline[name]);
      const made = { name: source.name, kind: "boxes", look: lookOf(source.number), x0: of("from_s"), x1: of("to_s"), y0: of("low_hz"), y1: of("high_hz") };
      const isShort = ({ from_s, to_s }) => to_s - from_s < SHORT_SHARE * view.slot_s;
      if (source.outlines.length <= MOST_OUTLINED || !source.outlines.every(isShort)) return made;
      const edge = (share) => source.outlines.map(() => high - share * span);
      return { ...made, name: `${source.name} (at the upper edge)`, y0: edge(EDGE_SHARE), y1: edge(0) };
    });
}

// Instants of short things, so that one sees which symbols they fall into.
function instants(view) {
  const longest = MOST_SYMBOLS * view.symbols.symbol_s;
  return view.sources
    .filter(({ number, outlines, is_muted }) => number && !is_muted && outlines.length && outlines.length <= MOST_INSTANTS && outlines.every(({ from_s, to_s }) => to_s - from_s < longest))
    .map(({ name, number, outlines }) => ({ name, kind: "rules", look: lookOf(number), x: outlines.map(({ from_s, to_s }) => (from_s + to_s) / 2) }));
}

export function drawSymbols(view, row, onPick) {
  const parts = [
    ["right", "data", RIGHT, false],
    ["wrong", "data", WRONG, true],
    ["Costas, right", "sync", COSTAS_RIGHT, false],
    ["Costas, wrong", "sync", COSTAS_WRONG, true],
  ];
  const series = parts.map(([name, role, look, isWrong]) => {
    const symbols = row.symbols.filter((symbol) => symbol.role === role && symbol.margin_db !== null && symbol.margin_db < 0 === isWrong);
    return {
      name: `${name} (${symbols.length})`,
      kind: "points",
      look,
      symbols,
      x: symbols.map((symbol) => symbol.at_s + view.symbols.symbol_s / 2),
      y: symbols.map((symbol) => Math.min(Math.max(symbol.margin_db, -MARGIN_DB), MARGIN_DB)),
      words: symbols.map((symbol) => symbol.words),
    };
  });
  plot(part("symbols"), {
    name: `Symbols: sent tone over the strongest other, above 0 dB right, below wrong. ${row.counts}`,
    x: time(view),
    y: { label: "Sent over next, dB", min: -MARGIN_DB - 2, max: MARGIN_DB + 2 },
    series: [{ kind: "rules", look: 6, x: [], y: [0] }, ...instants(view), ...series.filter((one) => one.x.length)],
    legend: true,
    height: NEAR_HEIGHT,
    onPick: (one, k) => onPick(one.symbols[k]),
  });
}

function drawWaveform(view) {
  const { step_s, lowest, highest, clipped_s, flat_s } = view.waveform;
  const peak = Math.max(...highest, ...lowest.map((value) => -value), 0.01);
  const reach = Math.min(1.05 * peak, 1e3);
  const at = (times, height) => ({ kind: "points", x: times, y: times.map(() => height) });
  plot(part("waveform"), {
    name: `Waveform in steps of ${Math.round(1000 * step_s)} ms, from lowest to highest sample`,
    x: time(view),
    y: { label: "Share of full scale", min: -reach, max: reach },
    series: [
      { name: "waveform", kind: "band", look: 7, x: lowest.map((_, k) => (k + 0.5) * step_s), low: lowest, high: highest },
      { name: "beyond full scale", look: 1, hidden: !clipped_s.length, ...at(clipped_s, 0.96 * reach) },
      { name: "flat top", look: 3, hidden: !flat_s.length, ...at(flat_s, 0.88 * reach) },
    ],
    legend: true,
    height: NEAR_HEIGHT,
  });
  const words = [];
  if (clipped_s.length) words.push(`Samples pass full scale in ${clipped_s.length} steps (marked at the top).`);
  if (flat_s.length) words.push(`Flat tops, cut off by the receiver's chain, in ${flat_s.length} steps (marked below the top).`);
  part("clip-words").textContent = words.join(" ") || "Nothing is clipped.";
}

function drawSpectrum(view) {
  const { first_hz, step_hz, lines } = view.spectra;
  const at = lines[0].levels_db.map((_, k) => first_hz + k * step_hz);
  const highest = Math.max(...lines.flatMap((line) => line.levels_db));
  plot(part("spectrum"), {
    name: `Spectrum from 0 to 3000 Hz: ${lines.map((line) => line.name).join(", ")}`,
    x: { label: "Frequency, Hz", min: 0, max: HIGHEST_HZ },
    y: { label: "dBFS in 1 Hz", min: view.wide.lowest_db - BELOW_SHADES_DB, max: Math.max(highest, view.wide.highest_db) + 3 },
    series: [...lines].reverse().map((line) => ({ name: line.number === SUM ? "sum" : line.name, kind: "line", look: lookOf(line.number), x: at, y: line.levels_db })),
    legend: true,
  });
}

// A line that runs through all pictures over time while the sound is played.
export function followPlayer(player, slotSeconds) {
  const heads = [...document.querySelectorAll(".timed")].map((host) => {
    const head = document.createElement("div");
    head.className = "playhead";
    head.hidden = true;
    host.append(head);
    return head;
  });
  let frame = 0;
  const place = () => {
    cancelAnimationFrame(frame);
    const share = Math.min(player.currentTime / slotSeconds(), 1);
    for (const head of heads) {
      const width = head.parentElement.clientWidth - ROOM.left - ROOM.right;
      head.hidden = player.currentTime === 0;
      head.style.left = `${ROOM.left + share * width}px`;
    }
    if (!player.paused) frame = requestAnimationFrame(place);
  };
  for (const event of ["play", "pause", "seeked", "ended"]) player.addEventListener(event, place);
}
