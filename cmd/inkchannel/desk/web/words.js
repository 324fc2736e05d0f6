// The program's messages, as the page says them.

// plain names settings as the page does, not as the command line: --scale-from is "scale from".
export const plain = (text) => (text || '').replace(/--([a-z][a-z-]*[a-z])/g, (_, flag) => `\u201c${flag.replaceAll('-', ' ')}\u201d`);
