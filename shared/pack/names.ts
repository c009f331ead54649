/** What may stand for a word in braces of a template. */
export type NameValues = Readonly<Record<string, string | number>>;

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
  const encoder = new TextEncoder();
  while (encoder.encode(name).length > longest) name = Array.from(name).slice(0, -1).join('');
  name = name.replace(/[. ]+$/, '');
  if (devices.test(name)) name = `_${name}`;
  return name === '' ? '_' : name;
}

/** Fills a template; words without a value (or an empty one) vanish with the space before them. */
export function fillTemplate(template: string, values: NameValues): string {
  const filled = template.replace(/[ _-]?\{(\w+)\}/g, (match, word: string) => {
    const value = values[word];
    if (value === undefined || value === '') return '';
    return (match.startsWith('{') ? '' : match[0]) + String(value);
  });
  return safeName(filled.replace(/^[ _-]+/, ''));
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

function fold(name: string): string {
  return name.normalize('NFKD').toLowerCase();
}
