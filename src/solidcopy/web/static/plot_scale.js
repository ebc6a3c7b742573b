// From numbers to places, and where the ticks of an axis stand.

const STEPS = [1, 2, 5];

function stepFor(span, most) {
  const least = span / most;
  const decade = 10 ** Math.floor(Math.log10(least));
  return (STEPS.find((step) => step * decade >= least * (1 - 1e-9)) ?? 10) * decade;
}

function linearTicks(min, max, most) {
  const step = stepFor(max - min, most);
  const first = Math.ceil(min / step - 1e-9);
  const last = Math.floor(max / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, k) => Number(((first + k) * step).toPrecision(12)));
}

function logTicks(min, max, most) {
  const found = [];
  const [from, to] = [Math.floor(Math.log10(min)), Math.ceil(Math.log10(max))];
  const steps = (to - from) * STEPS.length <= most ? STEPS : [1];
  const every = Math.max(1, Math.ceil((to - from) / most));
  for (let power = from; power <= to; power += every) {
    for (const step of steps) found.push(Number((step * 10 ** power).toPrecision(12)));
  }
  return found.filter((value) => value >= min * (1 - 1e-9) && value <= max * (1 + 1e-9));
}

export function tickWords(value) {
  const size = Math.abs(value);
  if (size !== 0 && (size < 1e-3 || size >= 1e5)) return value.toExponential(0).replace("e+", "e").replace("-", "−");
  return String(Number(value.toPrecision(6))).replace("-", "−");
}

// A scale: `place(value)` in pixels between `from` (at min) and `to` (at max); `value(place)` back.
export function scaleOf(axis, from, to, most) {
  const bend = axis.log ? Math.log10 : (value) => value;
  const unbend = axis.log ? (value) => 10 ** value : (value) => value;
  const [low, high] = [bend(axis.min), bend(axis.max)];
  const span = high - low || 1;
  return {
    place: (value) => from + ((bend(value) - low) / span) * (to - from),
    value: (place) => unbend(low + ((place - from) / (to - from)) * span),
    ticks: axis.ticks ?? (axis.log ? logTicks : linearTicks)(axis.min, axis.max, most),
    words: axis.format ?? tickWords,
  };
}

// Room around values, so that no point sits on the frame. Without values: `otherwise`.
export function rangeOf(values, { share = 0.04, least = 0, otherwise = [0, 1] } = {}) {
  const known = values.filter(Number.isFinite);
  if (!known.length) return { min: otherwise[0], max: otherwise[1] };
  const [low, high] = known.reduce(([a, b], v) => [Math.min(a, v), Math.max(b, v)], [Infinity, -Infinity]);
  const room = Math.max((high - low) * share, (least - (high - low)) / 2, high === low ? 0.5 : 0);
  return { min: low - room, max: high + room };
}
