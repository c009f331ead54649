import type { Beat } from '../hear/heard.ts';
import type { Hertz } from '../math/units.ts';
import { toSamples } from '../time/time-map.ts';

/**
 * The beats as a table (RFC 4180, UTF-8, lines end CR LF): running number, bar, place in the bar, seconds, sample
 * of the take, beats a minute up to the next beat, confidence, who says so. Bars count from 1; a pickup
 * before the first full bar is bar 0.
 */
export function beatsCsv(beats: readonly Beat[], sampleRate: Hertz): string {
  const rows = ['beat,bar,count,seconds,sample,bpm,confidence,by'];
  let bar = 0;
  beats.forEach((beat, i) => {
    if (beat.count === 1) bar++;
    const next = beats[i + 1];
    const bpm = next ? (60 / (next.time - beat.time)).toFixed(3) : '';
    const sample = toSamples(beat.time, sampleRate);
    rows.push(
      [
        i + 1,
        bar,
        beat.count,
        beat.time.toFixed(6),
        sample,
        bpm,
        beat.confidence.toFixed(3),
        beat.by,
      ].join(),
    );
  });
  return `${rows.join('\r\n')}\r\n`;
}
