// The program's messages, as the page says them.

// What the command line writes out is picked in the picture here.
const written = /give their places with --[a-z-]+ "x,y[^"]*", in px of the upright photo/g;

// plain names settings as the page does, not as the command line: --scale-from is "scale from".
export const plain = (text) => (text || '').replace(written, 'pick two places in the picture whose distance you know (“dot distance”)').replace(/--([a-z][a-z-]*[a-z])/g, (_, flag) => `\u201c${flag.replaceAll('-', ' ')}\u201d`);

// asked is what a setting that places are picked for asks for, from its help.
export function asked(help) {
  const text = help.replace(/,? as (two points|x,y).*$/, '').replace(/[;:].*$/, '').replace(' by hand', '');
  return text[0].toUpperCase() + text.slice(1);
}
