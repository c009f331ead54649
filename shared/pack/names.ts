/** What may stand for a word in braces of a template. */
export type NameValues = Readonly<Record<string, string | number>>;

/** A word in braces, with what parts it from the one before. */
const templateWord = /[ _-]?\{(\w+)\}/g;

/** Names that mean a device to Windows, with any ending (Microsoft, *Naming Files, Paths, and Namespaces*). */
const devices = /^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?$/i;
/** Most file systems end a name at 255 bytes; a few bytes stay free for an ending and a number. */
const longest = 120;

/** File names are built from templates such as `{name}_{bpm}bpm_{key}_{bars}bars_{stem}`. */
export const defaultTemplates = {
  loop: '{take} {lane} {bpm}bpm {key} {bars}bars {stem}',
  slice: '{take} {line}-{place} {note} {stem}',
} as const;

/**
 * A name that every common file system takes (FAT, NTFS, APFS, ext4): no `/ \ : * ? " < > |`, no control
 * characters, no leading or trailing dot or space, no device's name, letters composed (NFC), at most 120
 * bytes. What can't stay becomes a hyphen.
 */
export function safeName(wish: string): string {
  let name = wish
    .normalize('NFC')
    .toWellFormed()
    .replace(/[/\\:*?"<>|\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu, '-')
    .replace(/\s+/g, ' ')
    .replace(/^[. ]+|[. ]+$/g, '');
  while (bytesOf(name) > longest) name = Array.from(name).slice(0, -1).join('');
  name = name.replace(/[. ]+$/, '');
  if (devices.test(name)) name = `_${name}`;
  return name === '' ? '_' : name;
}

/**
 * Fills a template; words without a value (or an empty one) vanish with the space before them. What is too long is made
 * shorter where it is longest, not at its end: the name of a take must not crowd out which stem it is.
 */
export function fillTemplate(template: string, values: NameValues): string {
  const texts = new Map<string, string>();
  for (const [, word = ''] of template.matchAll(templateWord)) {
    const value = values[word];
    if (value !== undefined) texts.set(word, String(value));
  }
  for (;;) {
    const filled = template
      .replace(templateWord, (match, word: string) => {
        const text = texts.get(word);
        return text ? (match.startsWith('{') ? '' : match[0]) + text : '';
      })
      .replace(/^[ _-]+/, '');
    const [word, text] = [...texts].reduce(
      (most, one) => (bytesOf(one[1]) > bytesOf(most[1]) ? one : most),
      ['', ''],
    );
    if (bytesOf(filled) <= longest || text === '') return safeName(filled);
    texts.set(word, Array.from(text).slice(0, -1).join('').trimEnd());
  }
}

/**
 * The same list with no two names alike, on file systems that don't tell capitals apart either: the
 * second of a kind gets ` 2` before its ending, and so on. Names are made safe first.
 */
export function uniqueNames(wishes: readonly string[]): string[] {
  const taken = new Set<string>();
  return wishes.map((wish) => {
    const dot = wish.lastIndexOf('.');
    const ending = dot > 0 && wish.length - dot <= 5 ? wish.slice(dot) : '';
    const stem = safeName(ending ? wish.slice(0, dot) : wish);
    let name = `${stem}${ending}`;
    for (let n = 2; taken.has(fold(name)); n++) name = `${stem} ${n}${ending}`;
    taken.add(fold(name));
    return name;
  });
}

const encoder = new TextEncoder();
const bytesOf = (text: string) => encoder.encode(text).length;

function fold(name: string): string {
  return name.normalize('NFKD').toLowerCase();
}
