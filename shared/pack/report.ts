import type { Phrase } from '../hear/heard.ts';
import type { Seconds } from '../math/units.ts';
import type { PeakRow } from '../take/peaks.ts';
import type { Manifest, StatedLane, StatedLoudness } from './manifest.ts';
import {
  counted,
  dayWords,
  decibels,
  decimal,
  keyWords,
  lengthWords,
  signed,
  tuningWords,
} from './pack-words.ts';
import { landingPicture, ratioPicture, slicePicture, tempoPicture } from './report-pictures.ts';
import { reportStyle } from './report-style.ts';
import { escapeText as e } from './svg.ts';

/** What the report shows beyond the manifest. */
export interface ReportInput {
  readonly manifest: Manifest;
  readonly phrases: readonly Phrase[];
  readonly peaksOf: (from: Seconds, until: Seconds, columns: number) => PeakRow;
}

const percentile = (sorted: readonly number[], share: number) =>
  sorted[Math.min(Math.floor(sorted.length * share), sorted.length - 1)] ?? 0;

function row(cells: readonly (string | number)[]): string {
  return `<tr>${cells
    .map((cell) =>
      typeof cell === 'number' ? `<td class="n">${cell}</td>` : `<td>${e(cell)}</td>`,
    )
    .join('')}</tr>`;
}

function table(head: readonly string[], rows: readonly (readonly (string | number)[])[]): string {
  if (rows.length === 0) return '';
  const top = head.map((cell) => `<th scope="col">${e(cell)}</th>`).join('');
  return `<table><thead><tr>${top}</tr></thead><tbody>${rows.map(row).join('')}</tbody></table>`;
}

/** Facts, one a row, named in the first column. */
function facts(rows: readonly (readonly [string, string])[]): string {
  const body = rows.map(
    ([name, fact]) => `<tr><th scope="row">${e(name)}</th><td>${e(fact)}</td></tr>`,
  );
  return `<table class="facts"><tbody>${body.join('')}</tbody></table>`;
}

function loudnessOf({ integrated, range, truePeak }: StatedLoudness): string[] {
  return [decibels(integrated, 'LUFS'), decibels(range, 'LU'), decibels(truePeak, 'dBTP')];
}

function stemText({ part, variant, tuning }: Manifest['stems'][number]): string {
  const known = tuning && tuning.confidence > 0.3 ? ` (${signed(tuning.cents, 1)} cents)` : '';
  return `${part}${variant ? `, ${variant}` : ''}${known}`;
}

function takePart({ take, beats, stems }: Manifest, seconds: Seconds): string {
  const bpm = beats.slice(1).map((beat, i) => 60 / (beat.time - beats[i].time));
  const sorted = [...bpm].sort((a, b) => a - b);
  const tempo =
    bpm.length === 0
      ? 'no beat was found'
      : `about ${decimal(percentile(sorted, 0.5), 0)} beats a minute, mostly between ${decimal(percentile(sorted, 0.05), 0)} and ${decimal(percentile(sorted, 0.95), 0)}; ${beats.length} beats`;
  const mode = ['mono', 'stereo'][take.channels - 1] ?? `${take.channels} channels`;
  const [level, range, peak] = loudnessOf(take.loudness);
  return `<h2>The take</h2>
${facts([
  ['Length', lengthWords(seconds)],
  ['Recording', `${take.sampleRate / 1000} kHz, ${bitWords(take.bits)}, ${mode}`],
  ['Loudness', `${level}, range ${range}, true peak ${peak}`],
  ['Key', keyWords(take.key)],
  ['Tuning', tuningWords(take.tuning)],
  ['Tempo', tempo],
  ['Stems', stems.map(stemText).join('; ') || 'none'],
])}
${beats.length > 1 ? `<h3>Tempo, in beats a minute</h3>${tempoPicture(beats, seconds)}` : ''}`;
}

const bitWords = (bits: string) =>
  bits.endsWith('f') ? `${bits.slice(0, -1)}-bit float` : `${bits}-bit`;

function lanePart(lane: StatedLane, seconds: Seconds): string {
  const offsets = lane.landings.map((l) => Math.abs(l.at - l.grid) * 1000).sort((a, b) => a - b);
  const ratios = lane.ratios.map((r) => r.ratio).sort((a, b) => a - b);
  const { seam } = lane;
  const stated: [string, string][] = [
    [
      'Metre and tempo',
      `${counted(lane.bars, 'bar')} of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} beats a minute, ${lengthWords(seconds)}`,
    ],
    ['Made of', lane.kind === 'straight' ? 'the take in its own order' : 'slices in a new order'],
    [
      'Straightness',
      `steady ${lane.steady} %, tightened ${lane.tighten} % to ${gridWords[lane.grid] ?? lane.grid}, swing ${lane.swing} %`,
    ],
    [
      'Seam',
      `${seam.verdict}; change of sound ${decimal(seam.spectralChange, 1)} dB (usual ${decimal(seam.usualSpectralChange, 1)})`,
    ],
    ...(lane.gain === 0
      ? []
      : [
          [
            'Level',
            `turned ${lane.gain > 0 ? 'up' : 'down'} by ${Math.abs(lane.gain).toFixed(1)} dB, as was wished`,
          ] as [string, string],
        ]),
    [
      'Attacks off the grid',
      offsets.length === 0
        ? 'there are none'
        : `half within ${decimal(percentile(offsets, 0.5), 1)} ms, 95 of 100 within ${decimal(percentile(offsets, 0.95), 1)} ms, none farther than ${decimal(offsets.at(-1) ?? 0, 1)} ms`,
    ],
    [
      'Stretch',
      ratios.length === 0
        ? 'none: slices were moved as they are'
        : `to between ${decimal(ratios[0] * 100, 1)} % and ${decimal((ratios.at(-1) ?? 1) * 100, 1)} % of the length that was played`,
    ],
  ];
  const [first] = lane.files;
  const folder = first?.file.slice(0, first.file.lastIndexOf('/') + 1) ?? '';
  return `<h2>Loop: ${e(lane.name)}</h2>
${facts(stated)}
<h3>Attacks against the grid, in milliseconds: late above, early below</h3>
${landingPicture(lane.landings, seconds)}
<h3>Files in ${e(folder)}, each ${first?.samples ?? 0} samples at ${(first?.sampleRate ?? 0) / 1000} kHz, ${bitWords(first?.bits ?? '')}</h3>
${table(
  ['part', 'loudness', 'range', 'true peak', 'file'],
  lane.files.map((f) => [
    f.variant ? `${f.part}, ${f.variant}` : f.part,
    ...loudnessOf(f.loudness),
    f.file.slice(folder.length),
  ]),
)}`;
}

const gridWords: Readonly<Record<string, string>> = {
  '4': 'quarters',
  '8': 'eighths',
  '8t': 'eighth triplets',
  '16': 'sixteenths',
  '16t': 'sixteenth triplets',
  '32': 'thirty-seconds',
};

/** Every landing and every stretch of a loop, for whoever wants to know exactly. */
function laneFigures(lane: StatedLane): string {
  const stretches =
    lane.ratios.length === 0
      ? ''
      : `<h3>${e(lane.name)}: stretch</h3>${ratioPicture(lane.ratios)}${table(
          ['from', 'to', 'length after, of before'],
          lane.ratios.map((r) => [
            `${decimal(r.from, 3)} s`,
            `${decimal(r.until, 3)} s`,
            `${decimal(r.ratio * 100, 2)} %`,
          ]),
        )}`;
  return `<h3>${e(lane.name)}: landings</h3>
${table(
  ['in the take', 'in the loop', 'on the grid', 'off by'],
  lane.landings.map((l) => [
    `${decimal(l.source, 4)} s`,
    `${decimal(l.at, 4)} s`,
    `${decimal(l.grid, 4)} s`,
    `${signed((l.at - l.grid) * 1000, 2)} ms`,
  ]),
)}
${stretches}`;
}

function slicesPart(slices: Manifest['slices']): string {
  const [first] = slices;
  if (!first) return '';
  return table(
    ['line', 'place', 'start', 'landing', 'end', 'pitch', 'file'],
    slices.map((s) => [
      s.line,
      s.place,
      `${decimal(s.start, 3)} s`,
      `${decimal(s.landing, 3)} s`,
      `${decimal(s.end, 3)} s`,
      s.pitch ? `${s.pitch.name} ${signed(s.pitch.cents, 0)} cents` : '',
      (s.files[0]?.file ?? '').replace(/^slices\//, ''),
    ]),
  );
}

/** Credits and terms, as they were typed. */
function typedPart({ credits, terms }: Manifest): string {
  const part = (name: string, text: string | null) =>
    text === null ? '' : `<h2>${name}</h2><p class="typed">${typed(text)}</p>`;
  return `${part('Credits', credits)}${part('Terms', terms)}`;
}

const typed = (text: string) => text.trim().split(/\r?\n/).map(e).join('\n');

/** The report: one HTML page without scripts, its pictures inside, made to be read and printed. */
export function reportHtml({ manifest, phrases, peaksOf }: ReportInput): string {
  const { take, lanes, slices, warnings, artist } = manifest;
  const seconds = take.samples / take.sampleRate;
  const mind =
    warnings.length === 0
      ? ''
      : `<div class="mind"><h2>To mind</h2><ul>${warnings.map((w) => `<li>${e(w)}</li>`).join('')}</ul></div>`;
  const by = artist ? `By ${artist}. ` : '';
  const inside = `${counted(lanes.length, 'loop')}, ${counted(slices.length, 'slice')}`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Report: ${e(manifest.name)}</title>
<style>${reportStyle}</style>
</head>
<body>
<h1>${e(manifest.name)}</h1>
<p>${e(by)}${e(dayWords(manifest.changed))}. The whole take with its tempo map, ${inside}.</p>
${mind}
${takePart(manifest, seconds)}
${lanes.map((lane) => lanePart(lane, (lane.files[0]?.samples ?? 0) / (lane.files[0]?.sampleRate ?? 1))).join('\n')}
<h2>Slices</h2>
<p>Each line is a phrase of the take; the strokes below are the attacks that count.</p>
${slicePicture(phrases, slices, seconds, peaksOf)}
${typedPart(manifest)}
<div class="figures">
<h2>In figures</h2>
${lanes.map(laneFigures).join('\n')}
<h3>Slices</h3>
${slicesPart(slices)}
<p>Made with ${e(manifest.madeWith)}.</p>
</div>
</body>
</html>
`;
}
