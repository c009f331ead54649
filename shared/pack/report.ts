import type { Phrase } from '../hear/heard.ts';
import type { Decibels, Seconds } from '../math/units.ts';
import type { PeakRow } from '../take/peaks.ts';
import type { Manifest, StatedLane, StatedLoudness } from './manifest.ts';
import { landingPicture, ratioPicture, slicePicture, tempoPicture } from './report-pictures.ts';
import { escapeText as e } from './svg.ts';

/** What the report shows beyond the manifest. */
export interface ReportInput {
  readonly manifest: Manifest;
  readonly phrases: readonly Phrase[];
  readonly peaksOf: (from: Seconds, until: Seconds, columns: number) => PeakRow;
}

const style = `
:root { color-scheme: light; }
body { font: 16px/1.5 Georgia, "Times New Roman", serif; color: #1d1a16; background: #fbf9f3; max-width: 46rem; margin: 2rem auto; padding: 0 1rem; }
h1, h2, h3 { font-weight: normal; line-height: 1.2; margin: 2rem 0 .5rem; }
table { border-collapse: collapse; width: 100%; font: 13px/1.5 system-ui, sans-serif; font-variant-numeric: tabular-nums; }
th, td { text-align: left; padding: .15rem .6rem .15rem 0; border-bottom: 1px solid #ddd6c7; vertical-align: top; font-weight: normal; }
th { color: #6b6254; } td.n { text-align: right; }
svg { display: block; margin: .5rem 0 1rem; }
svg text { font: 10px system-ui, sans-serif; fill: #6b6254; }
.hair { stroke: #ddd6c7; stroke-width: .7; } .curve { stroke: #1d1a16; stroke-width: 1.4; fill: none; }
.ink { stroke: #1d1a16; stroke-width: .8; } .cut { stroke: #b7ad99; stroke-width: .7; }
.landing { stroke: #a8321f; stroke-width: 1.6; } .dot { fill: #1d1a16; }
.mind { border-left: 3px solid #a8321f; padding-left: .8rem; }
@media print { body { background: none; margin: 0; max-width: none; font-size: 11pt; } h2 { break-after: avoid; } svg, tr { break-inside: avoid; } }
`;

const decimal = (value: number, digits: number) => value.toFixed(digits);
const signed = (value: number, digits: number) =>
  `${value >= 0 ? '+' : ''}${value.toFixed(digits)}`;
const decibels = (value: Decibels | null, unit: string) =>
  value === null ? 'silent' : `${decimal(value, 1)} ${unit}`;
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
  return `<table><tbody>${body.join('')}</tbody></table>`;
}

function loudnessOf({ integrated, range, truePeak }: StatedLoudness): string[] {
  return [decibels(integrated, 'LUFS'), decibels(range, 'LU'), decibels(truePeak, 'dBTP')];
}

function stemText({ part, variant, tuning }: Manifest['stems'][number]): string {
  const known = tuning && tuning.confidence > 0.3 ? `, ${signed(tuning.cents, 1)} cents` : '';
  return `${part}${variant ? ` (${variant})` : ''}${known}`;
}

function takePart({ take, beats, stems }: Manifest, seconds: Seconds): string {
  const bpm = beats.slice(1).map((beat, i) => 60 / (beat.time - beats[i].time));
  const sorted = [...bpm].sort((a, b) => a - b);
  const tempo =
    bpm.length === 0
      ? 'No beat was found.'
      : `${decimal(percentile(sorted, 0.5), 1)} beats a minute in the middle, from ${decimal(sorted[0], 1)} to ${decimal(sorted.at(-1) ?? 0, 1)}; ${beats.length} beats.`;
  const key = take.key.mode === 'unclear' ? 'unclear' : `${take.key.tonic} ${take.key.mode}`;
  return `<h2>The take</h2>
${facts([
  [
    'Length',
    `${decimal(seconds, 2)} s, ${take.channels} channels, ${take.sampleRate} Hz, ${take.bits} bits`,
  ],
  ['Loudness', loudnessOf(take.loudness).join(', ')],
  ['Key', `${key} (confidence ${decimal(take.key.confidence, 2)})`],
  [
    'Tuning',
    `A4 = ${decimal(take.tuning.a4, 1)} Hz, ${signed(take.tuning.cents, 1)} cents (confidence ${decimal(take.tuning.confidence, 2)})`,
  ],
  ['Tempo', tempo],
  ['Stems', stems.map((s) => stemText(s)).join(', ') || 'none'],
])}
${beats.length > 1 ? tempoPicture(beats, seconds) : ''}`;
}

function lanePart(lane: StatedLane, seconds: Seconds): string {
  const offsets = lane.landings.map((l) => Math.abs(l.at - l.grid) * 1000).sort((a, b) => a - b);
  const ratios = lane.ratios.map((r) => r.ratio).sort((a, b) => a - b);
  const stated: [string, string][] = [
    [
      'Metre and tempo',
      `${lane.bars} bars of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} beats a minute, ${lane.kind}`,
    ],
    [
      'Straightness',
      `steady ${lane.steady} %, tighten ${lane.tighten} % to ${lane.grid}, swing ${lane.swing} %`,
    ],
    [
      'Seam',
      `${lane.seam.verdict}; level ${signed(lane.seam.levelStep, 1)} dB (usual ${decimal(lane.seam.usualLevelStep, 1)}), slope ${decimal(lane.seam.slopeStep, 2)}, spectrum ${decimal(lane.seam.spectralChange, 1)} dB (usual ${decimal(lane.seam.usualSpectralChange, 1)})`,
    ],
    [
      'Attacks off the grid',
      `middle ${decimal(percentile(offsets, 0.5), 1)} ms, 95 of 100 within ${decimal(percentile(offsets, 0.95), 1)} ms, most ${decimal(offsets.at(-1) ?? 0, 1)} ms`,
    ],
    [
      'Stretch',
      ratios.length === 0
        ? 'none: slices were moved as they are'
        : `from ${decimal(ratios[0] * 100, 1)} % to ${decimal((ratios.at(-1) ?? 1) * 100, 1)} %`,
    ],
  ];
  return `<h2>Loop: ${e(lane.name)}</h2>
${facts(stated)}
<h3>Files</h3>
${table(
  ['part', 'loudness', 'range', 'true peak', 'samples', 'file'],
  lane.files.map((f) => [
    f.variant ? `${f.part} (${f.variant})` : f.part,
    ...loudnessOf(f.loudness),
    f.samples,
    f.file,
  ]),
)}
<h3>Landings</h3>
${landingPicture(lane.landings, seconds)}
${table(
  ['in the take', 'in the loop', 'on the grid', 'off by'],
  lane.landings.map((l) => [
    `${decimal(l.source, 4)} s`,
    `${decimal(l.at, 4)} s`,
    `${decimal(l.grid, 4)} s`,
    `${signed((l.at - l.grid) * 1000, 2)} ms`,
  ]),
)}
${
  lane.ratios.length === 0
    ? ''
    : `<h3>Stretch</h3>${ratioPicture(lane.ratios)}${table(
        ['from', 'to', 'length after, of before'],
        lane.ratios.map((r) => [
          `${decimal(r.from, 3)} s`,
          `${decimal(r.until, 3)} s`,
          `${decimal(r.ratio * 100, 2)} %`,
        ]),
      )}`
}`;
}

/** The report: one HTML page without scripts, its pictures inside, made to be read and printed. */
export function reportHtml({ manifest, phrases, peaksOf }: ReportInput): string {
  const { take, lanes, slices, warnings } = manifest;
  const seconds = take.samples / take.sampleRate;
  const mind =
    warnings.length === 0
      ? ''
      : `<div class="mind"><h2>To mind</h2><ul>${warnings.map((w) => `<li>${e(w)}</li>`).join('')}</ul></div>`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Report: ${e(manifest.name)}</title>
<style>${style}</style>
</head>
<body>
<h1>${e(manifest.name)}</h1>
<p>${e(manifest.changed.slice(0, 10))}, made with ${e(manifest.madeWith)}</p>
${mind}
${takePart(manifest, seconds)}
${lanes.map((lane) => lanePart(lane, (lane.files[0]?.samples ?? 0) / (lane.files[0]?.sampleRate ?? 1))).join('\n')}
<h2>Slices</h2>
${slicePicture(phrases, slices, seconds, peaksOf)}
${table(
  ['line', 'place', 'start', 'landing', 'end', 'pitch', 'file'],
  slices.map((s) => [
    s.line,
    s.place,
    `${decimal(s.start, 3)} s`,
    `${decimal(s.landing, 3)} s`,
    `${decimal(s.end, 3)} s`,
    s.pitch ? `${s.pitch.name} ${signed(s.pitch.cents, 0)} cents` : '',
    s.files[0]?.file ?? '',
  ]),
)}
</body>
</html>
`;
}
