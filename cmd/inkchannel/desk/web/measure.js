// Lengths as the user reads them: mm, or inches, which the program takes with "in" behind them.
const inch = 25.4; // mm (ISO 80000-3, from memory)
const plain = /^-?\d+(\.\d+)?$/;

// shown is a setting's value in the unit of a length chosen, mm or in; what is no length stays.
export function shown(value, unit, chosen, digits = 5) {
  if (unit !== 'mm' || chosen !== 'in' || !plain.test(value) || Number(value) === 0) return value;
  return `${Number((Number(value) / inch).toPrecision(digits))}in`;
}

// meant is what was typed for a setting of a unit, as the program takes it: a bare number is of the unit
// chosen.
export function meant(text, unit, chosen) {
  const t = text.trim();
  return unit === 'mm' && chosen === 'in' && plain.test(t) ? `${t}in` : t;
}

// inMm is a length that was typed in the unit chosen, or with its own behind it, in mm without a unit;
// what is no length stays for the program to refuse.
export function inMm(text, chosen) {
  const [, value, own] = /^(.*?)\s*(mm|cm|in|["\u2033])?$/.exec(text.trim());
  const times = { mm: 1, cm: 10 }[own || chosen] || inch;
  return plain.test(value) ? String(Number((Number(value) * times).toPrecision(6))) : text;
}

// inWords is a text that names the unit in which a number is typed.
export const inWords = (text, chosen) => (chosen === 'in' ? text.replace(/\bmm on the paper\b/, 'inches on the paper') : text);

// Lengths in a message: places and sizes have two numbers before one unit; areas and resolutions are none.
const lengths = /(-?\d+(?:\.\d+)?)(?:( by |, y | to | and |,)(-?\d+(?:\.\d+)?))? mm(?![\w²])/g;

// told is a message with its lengths in the unit chosen, inches by their sign: "2 in in all" reads badly.
export function told(text, chosen) {
  if (chosen !== 'in') return text;
  const inches = (v) => String(Number((Number(v) / inch).toFixed(Math.abs(v) < 25 ? 3 : 2)));
  return text.replace(lengths, (_, a, between, b) => `${inches(a)}${between ? between + inches(b) : ''}″`);
}
