// What every module of the page needs of it.
export const byId = (id) => document.getElementById(id);

export function el(name, text, set) {
  const e = document.createElement(name);
  if (text !== undefined) e.textContent = text;
  if (name === 'button') e.type = 'button';
  return Object.assign(e, set || {});
}
