// Lengths as the user reads them: mm, or inches, which the program takes with "in" behind them.
const inch = 25.4; // mm (ISO 80000-3, from memory)
const plain = /^-?\d+(\.\d+)?$/;

// shown is a setting's value in the unit of a length chosen, mm or in; what is no length stays.
export function shown(value, unit, chosen) {
  if (unit !== 'mm' || chosen !== 'in' || !plain.test(value)) return value;
  return `${Number((Number(value) / inch).toPrecision(5))}in`;
}

// meant is what was typed for a setting of a unit, as the program takes it: a bare number is of the unit
// chosen.
export function meant(text, unit, chosen) {
  const t = text.trim();
  return unit === 'mm' && chosen === 'in' && plain.test(t) ? `${t}in` : t;
}
