/** One line on stderr, as scripts and people look for it: what was found or went wrong, and what to do. */
export function say(sentence: string): void {
  process.stderr.write(`unclicked: ${sentence.replace(/\s*\n\s*/g, ' ')}\n`);
}
