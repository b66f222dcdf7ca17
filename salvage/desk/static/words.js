// The catalogue of the page's words: the same that the server's templates read.

let words = {};

export async function readWords() {
  const told = await (await fetch("/words")).json();
  words = told.words;
}

/** A sentence of the catalogue with its {values} put in. */
export function t(key, values = {}) {
  const text = words[key] ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) => values[name] ?? whole);
}

/** An error of the server: a sentence already, or a key of the catalogue. */
export const said = (error) => words[error] ?? error;
