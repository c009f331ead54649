import type { Key, Tuning } from '../hear/heard.ts';
import type { Decibels } from '../math/units.ts';

/** What report and README.txt say alike. */

const small = ['no', 'one', 'two', 'three', 'four', 'five', 'six', 'seven', 'eight', 'nine', 'ten'];

/** "two loops", "one loop", "14 loops". */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${small[count] ?? count} ${count === 1 ? one : many}`;
}

/** A number with its sign, a true minus. */
export function signed(value: number, digits: number): string {
  const text = Math.abs(value).toFixed(digits);
  if (Number(text) === 0) return text;
  return value < 0 ? `\u2212${text}` : `+${text}`;
}

/** The same without a plus. */
export function decimal(value: number, digits: number): string {
  return signed(value, digits).replace('+', '');
}

/** What is heard with less confidence than this is said with a "probably". */
const sure = 0.6;
/** And below this a tuning is no better than none. */
const guessed = 0.2;

/** "D minor", "probably D minor", "unclear". */
export function keyWords({ tonic, mode, confidence }: Key): string {
  if (mode === 'unclear') return 'unclear';
  return `${confidence < sure ? 'probably ' : ''}${tonic} ${mode}`;
}

/** "A4 = 441.2 Hz, +4.7 cents", or that it was not heard. */
export function tuningWords({ a4, cents, confidence, drift = 0 }: Tuning): string {
  if (confidence < guessed) return 'not clear enough to be stated';
  const moves =
    Math.abs(drift) < 5
      ? ''
      : `, ${drift > 0 ? 'rising' : 'falling'} by ${Math.abs(drift).toFixed(0)} cents over the take`;
  return `A4 = ${a4.toFixed(1)} Hz, ${signed(cents, 1)} cents${moves}`;
}

export function decibels(value: Decibels | null, unit: string): string {
  return value === null ? 'silent' : `${decimal(value, 1)} ${unit}`;
}

/** "89.3 s", "3 min 12 s". */
export function lengthWords(seconds: number): string {
  if (seconds < 100) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  return `${Math.floor(whole / 60)} min ${whole % 60} s`;
}

const months =
  'January February March April May June July August September October November December'.split(
    ' ',
  );

/** "4 March 2026", of an ISO 8601 moment. */
export function dayWords(iso: string): string {
  const [year, month, day] = iso.slice(0, 10).split('-').map(Number);
  return `${day} ${months[month - 1]} ${year}`;
}
