import type { Slice } from '../cut/slice.ts';
import type { Beat, Phrase } from '../hear/heard.ts';
import type { LaneLanding, LaneRatio } from '../loop/material.ts';
import type { Seconds } from '../math/units.ts';
import type { PeakRow } from '../take/peaks.ts';
import { c, label, line, picture, pictureWidth, ticks } from './svg.ts';

const left = 44;
const right = pictureWidth - 8;

function scale(from: number, until: number, low: number, high: number): (value: number) => number {
  const span = until - from || 1;
  return (value) => low + ((value - from) / span) * (high - low);
}

function seconds(value: number): string {
  return `${Number(value.toFixed(2))} s`;
}

/** The tempo from beat to beat over the take. */
export function tempoPicture(beats: readonly Beat[], length: Seconds): string {
  const points = beats.slice(1).map((beat, i) => ({
    from: beats[i].time,
    until: beat.time,
    bpm: 60 / (beat.time - beats[i].time),
  }));
  const x = scale(0, length, left, right);
  const all = points.map((p) => p.bpm).sort((a, b) => a - b);
  const low = Math.floor((all[0] ?? 60) / 10) * 10;
  const high = Math.ceil((all.at(-1) ?? 120) / 10) * 10 || 10;
  const y = scale(low, high, 150, 10);
  const path = points
    .map((p, i) => `${i === 0 ? 'M' : 'L'}${c(x((p.from + p.until) / 2))} ${c(y(p.bpm))}`)
    .join('');
  const marks = [
    ...ticks(low, high, 4).map(
      (bpm) =>
        line(left, y(bpm), right, y(bpm), 'hair') + label(left - 6, y(bpm) + 4, String(bpm), 'end'),
    ),
    ...ticks(0, length, 8).map((t) => label(x(t), 170, seconds(t), 'middle')),
  ];
  return picture(
    'Tempo in beats a minute from beat to beat',
    176,
    `${marks.join('')}<path d="${path}" class="curve"/>`,
  );
}

/** The take line by line: a phrase each, its slices as ink with their landings below. */
export function slicePicture(
  phrases: readonly Phrase[],
  slices: readonly Slice[],
  length: Seconds,
  peaksOf: (from: Seconds, until: Seconds, columns: number) => PeakRow,
): string {
  const lines = phrases.length > 0 ? phrases : [{ start: 0, end: length }];
  const longest = Math.max(...lines.map((p) => p.end - p.start));
  const height = 44;
  const rows = lines.map((phrase, i) => {
    const middle = i * height + 18;
    const x = (t: Seconds) => left + ((t - phrase.start) / longest) * (right - left);
    const columns = Math.max(1, Math.round(x(phrase.end) - left));
    const peaks = peaksOf(phrase.start, phrase.end, columns);
    let ink = '';
    for (let k = 0; k < columns; k++) {
      const top = middle - Math.max(peaks.max[k], 0) * 15;
      const bottom = middle - Math.min(peaks.min[k], 0) * 15;
      ink += `M${left + k} ${c(top)}V${c(Math.max(bottom, top + 0.3))}`;
    }
    const inside = slices.filter((s) => s.landing >= phrase.start - 0.05 && s.landing < phrase.end);
    const cuts = inside.map(
      (s) =>
        line(x(s.start), middle - 15, x(s.start), middle + 15, 'cut') +
        line(x(s.landing), middle + 15, x(s.landing), middle + 21, 'landing'),
    );
    return `${label(left - 6, middle + 4, String(i + 1), 'end')}<path d="${ink}" class="ink"/>${cuts.join('')}`;
  });
  return picture('Slices of the take, a phrase a line', lines.length * height, rows.join(''));
}

/** How far each attack stands from its grid point, in milliseconds. */
export function landingPicture(landings: readonly LaneLanding[], length: Seconds): string {
  const offsets = landings.map((l) => (l.at - l.grid) * 1000);
  const most = Math.max(5, ...offsets.map(Math.abs));
  const x = scale(0, length, left, right);
  const y = scale(-most, most, 110, 10);
  const marks = ticks(-most, most, 4).map(
    (ms) => line(left, y(ms), right, y(ms), 'hair') + label(left - 6, y(ms) + 4, String(ms), 'end'),
  );
  const dots = landings.map(
    (l, i) => `<circle cx="${c(x(l.at))}" cy="${c(y(offsets[i]))}" r="2.5" class="dot"/>`,
  );
  const times = ticks(0, length, 8).map((t) => label(x(t), 130, seconds(t), 'middle'));
  return picture(
    'Attacks against the grid, milliseconds late (up) and early (down)',
    136,
    [...marks, ...dots, ...times].join(''),
  );
}

/** How far each stretch of the source was stretched (above 100 %) or squeezed. */
export function ratioPicture(ratios: readonly LaneRatio[]): string {
  const usable = ratios.filter((r) => r.until > r.from && r.ratio > 0);
  if (usable.length === 0) return '';
  const from = Math.min(...usable.map((r) => r.from));
  const until = Math.max(...usable.map((r) => r.until));
  const most = Math.max(Math.log2(1.1), ...usable.map((r) => Math.abs(Math.log2(r.ratio))));
  const x = scale(from, until, left, right);
  const y = scale(-most, most, 110, 10);
  const marks = [1, 2 ** (most / 2), 2 ** (-most / 2)].map(
    (ratio) =>
      line(left, y(Math.log2(ratio)), right, y(Math.log2(ratio)), 'hair') +
      label(left - 6, y(Math.log2(ratio)) + 4, `${Math.round(ratio * 100)} %`, 'end'),
  );
  const bars = usable.map((r) =>
    line(x(r.from), y(Math.log2(r.ratio)), x(r.until), y(Math.log2(r.ratio)), 'curve'),
  );
  const times = ticks(from, until, 8).map((t) => label(x(t), 130, seconds(t), 'middle'));
  return picture('Stretch of each piece of the take', 136, [...marks, ...bars, ...times].join(''));
}
