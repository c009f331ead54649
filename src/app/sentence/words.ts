/** Numbers as they are said in a sentence, and back. Figures are written alike in every country. */

const small = [
  'no',
  'one',
  'two',
  'three',
  'four',
  'five',
  'six',
  'seven',
  'eight',
  'nine',
  'ten',
  'eleven',
  'twelve',
];

/** "four bars", "one bar", "16 bars". */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${small[count] ?? count} ${count === 1 ? one : many}`;
}

/** The same with a capital: it opens a sentence. */
export function opening(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** At most so many decimals, no trailing noughts, a true minus sign. */
export function figure(value: number, decimals = 0): string {
  const text = String(Number(value.toFixed(decimals)));
  return text.startsWith('-') ? `−${text.slice(1)}` : text;
}

/** The first number of a text, with point or comma, any minus sign, or written as a word up to twelve. */
export function readNumber(text: string): number | null {
  const plain = text
    .replace(/[−–]/g, '-')
    .replace(/(\d),(\d)/g, '$1.$2')
    .toLowerCase();
  const digits = plain.match(/[-+]?\d*\.?\d+/);
  if (digits) return Number(digits[0]);
  // The whole word: "sixteen" is not six.
  const [first] = plain.match(/\p{L}+/u) ?? [];
  const word = small.indexOf(first ?? '');
  return word < 0 ? null : word;
}

/**
 * Reads a short time in seconds, "80 ms" or "1,2 s". A bare number counts in the unit that is shown, unless
 * only the other one lies within bounds.
 */
export function readTime(
  text: string,
  {
    shown,
    from,
    until,
  }: { readonly shown: 'ms' | 's'; readonly from: number; readonly until: number },
): number | null {
  const value = readNumber(text);
  if (value === null) return null;
  const milli = value / 1000;
  if (/ms\b|milli/i.test(text)) return milli;
  if (/(^|[\d\s])s(ec|$|\s)/i.test(text)) return value;
  const [first, other] = shown === 'ms' ? [milli, value] : [value, milli];
  const within = (seconds: number) => seconds >= from && seconds <= until;
  return within(first) || !within(other) ? first : other;
}

/** The unit that `shortTime` shows a time in. */
export const unitOf = (seconds: number | null): 'ms' | 's' =>
  seconds !== null && Math.abs(seconds) >= 1 ? 's' : 'ms';

/** The same as a whole number of milliseconds. */
export function readMilliseconds(text: string, now: number | null, until: number): number | null {
  const shown = unitOf(now === null ? null : now / 1000);
  const seconds = readTime(text, { shown, from: 0, until: until / 1000 });
  return seconds === null ? null : seconds * 1000;
}

/** "2 semitones lower", "at pitch". */
export function semitoneWords(semitones: number): string {
  if (semitones === 0) return 'at pitch';
  const size = Math.abs(semitones);
  return `${figure(size)} semitone${size === 1 ? '' : 's'} ${semitones > 0 ? 'higher' : 'lower'}`;
}

/** "4 cents sharp". */
export function centWords(cents: number): string {
  if (cents === 0) return '0 cents';
  return `${figure(Math.abs(cents))} cent${Math.abs(cents) === 1 ? '' : 's'} ${cents > 0 ? 'sharp' : 'flat'}`;
}

/** Reads "2 lower", "-2", "3 flat", "4 sharp". */
export function readSigned(text: string): number | null {
  const value = readNumber(text);
  if (value === null) return null;
  return /lower|flat|down|below|under/i.test(text) ? -Math.abs(value) : value;
}

/** "-1.5 dB". */
export function levelWords(decibels: number): string {
  return `${decibels > 0 ? '+' : ''}${figure(decibels, 1)} dB`;
}

/** A short time: "60 ms", "1.25 s". */
export function shortTime(seconds: number): string {
  return Math.abs(seconds) < 1 ? `${figure(seconds * 1000)} ms` : `${figure(seconds, 2)} s`;
}

/** A place in a recording: "1:07.3". */
export function clock(seconds: number, decimals = 0): string {
  const whole = Math.max(0, seconds);
  const minutes = Math.floor(whole / 60);
  const rest = (whole - minutes * 60).toFixed(decimals).padStart(decimals ? decimals + 3 : 2, '0');
  return `${minutes}:${rest}`;
}

/** A size in bytes: "12.4 MB". */
export function sizeWords(bytes: number): string {
  if (bytes < 1e6) return `${figure(bytes / 1e3)} kB`;
  return bytes < 1e9 ? `${figure(bytes / 1e6, 1)} MB` : `${figure(bytes / 1e9, 2)} GB`;
}
