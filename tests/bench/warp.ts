/**
 * The warp beside general stretchers: `npm run bench warp [-- --write] [--few]`. Performances in free time
 * are warped to the times of their ideal (the same notes rendered there) and compared; probes beside.
 * Needs fluidsynth and Debian's FluidR3 bank (MIT) for the performances; says so where they are missing.
 * `--write` also sets the table down in tests/bench/warp.md.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { type Audio, lengthOf } from '../../shared/take/audio.ts';
import { makeTimeMap, mapTime, type TimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';
import { hasFluid } from '../perform/fluid.ts';
import { dyingGrid, dyingNote, type VibratoFaults, vibratoFaults } from './warp/dying-vibrato.ts';
import { besideChromium } from './warp/in-chromium.ts';
import { type Material, material } from './warp/material.ts';
import { compare, type Figures, mono, quantile, type Reading } from './warp/measures.ts';
import { textureOf, whiteNoise } from './warp/noises.ts';
import { nullOf, phaseKept, storedApart } from './warp/nulls.ts';
import {
  breath,
  chordFaults,
  probeMap,
  rate,
  steadyChord,
  sungFaults,
  sungNotes,
  sweep,
  sweepFaults,
  tonality,
} from './warp/probes.ts';
import { hasRubberBand, type Rival, rubberBand, signalsmith } from './warp/rivals.ts';
import { secondMaterial } from './warp/second-material.ts';

interface Column {
  readonly name: string;
  readonly run: Rival;
  /** Several inputs as one performance; else each apart. */
  readonly together?: (inputs: Audio[], map: TimeMap, length: number) => Audio[];
}

const ours: Column = {
  name: 'unclicked',
  run: async (source, map, length) => {
    const before = process.cpuUsage();
    const [audio] = warp([source], map, length);
    const { user, system } = process.cpuUsage(before);
    return { audio, cpu: (user + system) / 1e6 };
  },
  together: warp,
};
const columns = [
  ours,
  { name: 'signalsmith-stretch 1.3.2', run: signalsmith },
  ...(hasRubberBand() ? [{ name: 'Rubber Band, finer, one map', run: rubberBand }] : []),
];

const goals: readonly [string, string][] = [
  ['length error, samples', '0'],
  ['magnitude distance STFT / mel, dB', '3.1 / 1.6'],
  ['attack timing median / anchors 95 % / between 95 %, ms', '0.25 / 1.2 / 5'],
  ['sharpness at anchors, median / 10 %', '0.97 to 1.03 / 0.86'],
  ['sharpness between anchors, median / 10 %', '0.97 to 1.03 / 0.80'],
  ['pre-echo over the ideal, 50 / 90 %, dB', '0 / +1.6'],
  ['cents on held partials, 50 / 95 %', '0.3 / 5'],
  ['CPU seconds a second of stereo', '0.02'],
  ['the same in Chromium, one piece, main thread (Node by turns with it)', '0.02'],
  ['steady chord: spurs 50 / 95 % of frames, dB; wobble, dB', '-58 / -57.5; 0.05'],
  ['sine sweep: cents 95 %; wobble, dB', '1.5; 0.05'],
  ['sung notes dying away, 1.6 as long: cents 95 %; longest still, ms', '4; 40'],
  [
    'lone dying notes with vibrato, a part of the grid: worst rate / depth, %; longest still over the ideal, ms',
    '10 / 10; 40',
  ],
  ['breath: how much peakier its spectrum gets, dB', 'none set'],
  ['white noise 0.5 / 1.6 / 3 times as long: how much peakier, dB', 'none set'],
  ['the same: level, dB', 'none set'],
  ['ratio 1: null, dB', 'bit for bit'],
  ['right half the left: null, dB', 'under -120'],
  ['60 degree phase between channels, error in degrees', 'under 0.1'],
  ['sum of stems against the mix: null, dB', 'under -100'],
  ['the same, mix stored apart: worst of the performances, dB', 'under -100'],
];

const few = process.argv.includes('--few');
const pieces = hasFluid() ? material(few ? 4 : 10) : [];
if (pieces.length === 0) console.log('fluidsynth or its FluidR3 bank is missing: probes only.');

const n = (value: number, digits: number): string =>
  Number.isFinite(value) ? value.toFixed(digits) : value < 0 ? 'exact' : '-';

/** What a column makes of performances: the figures of each, CPU seconds for one of sound, worst length error. */
async function measured(
  column: Column,
  all: readonly Material[],
  heard: (audio: Audio) => Float64Array,
  reading?: Reading,
): Promise<{ figures: Figures[]; cpu: number; wrong: number }> {
  const figures: Figures[] = [];
  let cpu = 0;
  let seconds = 0;
  let wrong = 0;
  for (const piece of all) {
    const result = await column.run(piece.source, piece.map, piece.length);
    cpu += result.cpu;
    seconds += piece.length / rate;
    wrong = Math.max(wrong, Math.abs(lengthOf(result.audio) - piece.length));
    figures.push(compare(heard(result.audio), heard(piece.ideal), piece.attacks, rate, reading));
  }
  return { figures, cpu: cpu / seconds, wrong };
}

/** The rows that performances fill, means over them. */
function rowsOf(all: readonly Figures[], wrong: number): string[] {
  const mean = (of: (f: Figures) => number): number =>
    all.reduce((sum, f) => sum + of(f), 0) / all.length;
  const part = (key: 'timing' | 'sharpness', anchored: boolean, share: number): number =>
    mean((f) =>
      quantile(
        f[key].filter((_, i) => f.anchored[i] === anchored),
        share,
      ),
    );
  const share = (key: 'timing' | 'preEcho' | 'cents', at: number): number =>
    mean((f) => quantile(f[key], at));
  const stft = mean((f) => f.stft);
  const mel = mean((f) => f.mel);
  return [
    String(wrong),
    `${n(stft, 2)} / ${n(mel, 2)}`,
    `${n(share('timing', 0.5), 2)} / ${n(part('timing', true, 0.95), 1)} / ${n(part('timing', false, 0.95), 1)}`,
    `${n(part('sharpness', true, 0.5), 2)} / ${n(part('sharpness', true, 0.1), 2)}`,
    `${n(part('sharpness', false, 0.5), 2)} / ${n(part('sharpness', false, 0.1), 2)}`,
    `${n(share('preEcho', 0.5), 1)} / ${n(share('preEcho', 0.9), 1)}`,
    `${n(share('cents', 0.5), 2)} / ${n(share('cents', 0.95), 1)}`,
  ];
}

async function performances(column: Column): Promise<string[]> {
  if (pieces.length === 0) return Array.from({ length: 9 }, () => '-');
  // Once for warmth: what is timed is the work, not the start.
  await column.run(pieces[0].source, pieces[0].map, pieces[0].length);
  const { figures, cpu, wrong } = await measured(column, pieces, mono);
  return [
    ...rowsOf(figures, wrong),
    n(cpu, 3),
    column === ours ? await inChromium(pieces[0]) : '-',
  ];
}

/** As the second set is read; chosen with it, by the stretchers beside ours alone. */
const coarse: Reading = {
  melBands: 40,
  floor: -70,
  held: { size: 8192, step: 2048, span: -20, level: 6, lowest: 200, clear: true },
};
const left = (audio: Audio): Float64Array => Float64Array.from(audio.channels[0]);

/** What the stretchers beside ours scored where the goals were set, row by row. */
const wasThere: ReadonlyMap<Rival, readonly string[]> = new Map([
  [
    signalsmith,
    ['0', '3.90 / 2.23', '1.7 / 3.6 / 9.4', '0.81 / 0.58', '0.80 / 0.59', '1.2 / 5.1', '1.4 / 9.3'],
  ],
  [
    rubberBand,
    [
      '0',
      '4.87 / 2.41',
      '5.7 / 11.2 / 16.2',
      '0.88 / 0.68',
      '0.83 / 0.62',
      '0.5 / 2.6',
      '0.6 / 11.8',
    ],
  ],
]);

/** The second table: each stretcher, and beside those that are not ours what they scored where the goals were set. */
async function secondTable(all: readonly Material[]): Promise<string> {
  const head: string[] = [];
  const rows = goals.slice(0, 7).map(([name]) => [name]);
  const add = (name: string, figures: readonly string[]): void => {
    head.push(name);
    rows.forEach((row, i) => {
      row.push(figures[i]);
    });
  };
  for (const column of columns) {
    console.error(`measuring ${column.name}, second set`);
    const { figures, wrong } = await measured(column, all, left, coarse);
    add(column.name, rowsOf(figures, wrong));
    const there = wasThere.get(column.run);
    if (there) add('the same where the goals were set', there);
  }
  add(
    'goal',
    goals.map(([, goal]) => goal),
  );
  return [
    `| measure | ${head.join(' | ')} |`,
    `| --- |${' --- |'.repeat(head.length)}`,
    ...rows.map((row) => `| ${row.join(' | ')} |`),
  ].join('\n');
}

async function inChromium({ source, map, length }: Material): Promise<string> {
  const { chromium, node } = await besideChromium(source, map, length);
  const [page, here] = [chromium, node].map((taken) => (taken[taken.length >> 1] * rate) / length);
  return `${n(page, 3)} (${n(here, 3)})`;
}

/** Notes of the grid that dies away, each at one ratio; the worst of each fault. */
async function dyingFaults(column: Column): Promise<VibratoFaults> {
  const worst = { rate: 0, depth: 0, still: 0 };
  for (const [i, note] of dyingGrid.filter((_, g) => g % 7 === 3).entries()) {
    const ratio = [0.6, 1.3, 2][i % 3];
    const source = dyingNote(note);
    const { audio } = await column.run(
      source,
      evenMap(lengthOf(source) / rate, ratio),
      Math.round(lengthOf(source) * ratio),
    );
    const faults = vibratoFaults(audio.channels[0], note, ratio);
    worst.rate = Math.max(worst.rate, Math.abs(faults.rate));
    worst.depth = Math.max(worst.depth, Math.abs(faults.depth));
    worst.still = Math.max(worst.still, faults.still);
  }
  return worst;
}

/** White noise at three lengths: how much peakier and louder it comes out, over 1.5 to 4.2 kHz. */
async function noiseFaults(column: Column): Promise<{ peakier: string; louder: string }> {
  const seconds = 6;
  const source = whiteNoise(seconds);
  const was = textureOf(source.channels[0], 1500, 4200);
  const peakier: string[] = [];
  const louder: string[] = [];
  for (const ratio of [0.5, 1.6, 3]) {
    const { audio } = await column.run(
      source,
      evenMap(seconds, ratio),
      Math.round(seconds * ratio * rate),
    );
    const is = textureOf(audio.channels[0], 1500, 4200);
    peakier.push(n(is.peaky - was.peaky, 1));
    louder.push(n(is.level - was.level, 1));
  }
  return { peakier: peakier.join(' / '), louder: louder.join(' / ') };
}

const evenMap = (seconds: number, ratio: number): TimeMap =>
  makeTimeMap([
    { from: 0, to: 0 },
    { from: seconds, to: seconds * ratio },
  ]);

async function probes(column: Column): Promise<string[]> {
  const map = probeMap();
  const length = Math.round(mapTime(map, 9.5) * rate);
  const run = async (source: Audio, by = map, samples = length): Promise<Audio> =>
    (await column.run(source, by, samples)).audio;
  const chord = chordFaults((await run(steadyChord())).channels[0]);
  const tone = sweepFaults((await run(sweep())).channels[0], map, 10);
  const longer = makeTimeMap([
    { from: 0, to: 0 },
    { from: 10, to: 16 },
  ]);
  const sung = sungFaults((await run(sungNotes(8), longer, 16 * rate)).channels[0], longer);
  const dying = await dyingFaults(column);
  const white = await noiseFaults(column);
  const noise = breath();
  const peakier = tonality((await run(noise)).channels[0]) - tonality(noise.channels[0]);
  const plain: Audio = pieces[0]?.source ?? sweep();
  const same = await run(plain, makeTimeMap([{ from: 1, to: 1 }]), lengthOf(plain));
  const half: Audio = {
    sampleRate: rate,
    channels: [plain.channels[0], plain.channels[0].map((v) => v / 2)],
  };
  const turned = await run(half);
  const stems = pieces.find((p) => p.stems.length > 1);
  return [
    `${n(chord.median, 1)} / ${n(chord.worst, 1)}; ${n(chord.wobble, 3)}`,
    `${n(tone.cents, 1)}; ${n(tone.wobble, 3)}`,
    `${n(sung.cents, 1)}; ${n(sung.still, 0)}`,
    `${n(100 * dying.rate, 1)} / ${n(100 * dying.depth, 1)}; ${n(dying.still, 0)}`,
    n(peakier, 1),
    white.peakier,
    white.louder,
    n(nullOf(same.channels, plain.channels), 1),
    n(nullOf([turned.channels[0].map((v) => v / 2)], [turned.channels[1]]), 1),
    n(await phaseKept((source) => run(source)), 3),
    stems ? n(await stemNull(column, stems, stems.source), 1) : '-',
    column === ours ? n(await worstApart(), 1) : '-',
  ];
}

/** The worst null of our stems against a mix that was stored apart from them. */
async function worstApart(): Promise<number> {
  let worst = Number.NEGATIVE_INFINITY;
  for (const [i, piece] of pieces.entries())
    worst = Math.max(worst, await stemNull(ours, piece, storedApart(piece.stems, i + 1)));
  return worst;
}

async function stemNull(column: Column, piece: Material, source: Audio): Promise<number> {
  const { map, length, stems } = piece;
  const parts = column.together
    ? column.together([...stems], map, length)
    : await Promise.all(stems.map(async (stem) => (await column.run(stem, map, length)).audio));
  const mix = (await column.run(source, map, length)).audio;
  const sum = mix.channels.map((channel, c) =>
    channel.map((_, i) => parts.reduce((s, part) => s + part.channels[c][i], 0)),
  );
  return nullOf(sum, mix.channels);
}

const results: string[][] = [];
for (const column of columns) {
  console.error(`measuring ${column.name}`);
  results.push([...(await performances(column)), ...(await probes(column))]);
}
const lines = [
  `| measure | ${columns.map((c) => c.name).join(' | ')} | goal |`,
  `| --- |${' --- |'.repeat(columns.length + 1)}`,
  ...goals.map(
    ([name, goal], i) => `| ${name} | ${results.map((r) => r[i]).join(' | ')} | ${goal} |`,
  ),
];
console.log(lines.join('\n'));
const second = pieces.length > 0 ? await secondTable(secondMaterial(few ? 4 : 40)) : '';
console.log(`\nSecond set:\n${second}`);

if (process.argv.includes('--write')) {
  const day = new Date().toISOString().slice(0, 10);
  const text = `# The warp beside general stretchers

Measured on ${day} by \`npm run bench warp -- --write\`, one run, Node ${process.version}, on a shared machine with two cores:
CPU figures compare columns, they are no promise. ${pieces.length} performances of about 20 s in free time (half piano alone, half
piano with bass and brushes, written by tests/perform, played by fluidsynth with FluidR3), each against the same notes rendered at
the mapped times; segment ratios 0.5 to 1.85. Means over the performances. The goals were set on other performances with measures
of the same kind but not the same code, so a row may be stricter or laxer here: compare columns first.

${lines.join('\n')}

## A second set, as hard as the one that the goals were set on

In the first table the stretchers beside ours do worse than they did where the goals were set, so it is harder, or read otherwise. This second
set of 40 performances (19 to 24 s, half piano alone, half piano with bass and brushes, segment ratios 0.5 to 1.85; \`tests/bench/warp/second-material.ts\`)
is laid out and read so that those stretchers come out as near to what they scored there as could be found. **It was chosen by their columns
and by what a perfect warp would score alone**: ours was looked at once, after all of it was fixed. Afterwards two readings were changed, by their rows again
and with ours under the new ones unseen: an attack counts as anchored within 3 ms of an anchor instead of 1, since one performance had no such attack, and
which partials count as held (below), since Rubber Band's median there was 1.47 for 0.6. By the first table's reading ours had 0.61 / 5.7 there. All this was
done with ten performances, in which anchors at 95 % are the mean of ten worst attacks and move by 1 ms with one of them; so there are 40 now, from the same seed on,
nothing else changed (of the ten alone, ours: 3.19 / 1.48 dB, 0.21 / 1.7 / 1.8 ms, sharpness at anchors 0.95 / 0.87, pre-echo 0.1 / 1.8, cents 0.19 / 2.7; of 40 others, from seeds 151, 251, 351,
451 and 551: 3.01 / 1.51 dB, 0.18 / 1.0 / 1.7 ms, 1.00 / 0.92, pre-echo 0.1 / 1.9, cents 0.18 / 2.5).

${second}

What turned out to differ: how it is read, for the most part. One channel instead of the sum of both (Rubber Band moves the channels against each other:
mel 3.25 to 2.70 dB, signalsmith's 2.42 to 2.48, two performances), 40 mel bands instead of 64 (2.67 to 2.41 and 2.50 to 2.25, four other ones) and bins down to 70 dB
below the loudest instead of 60 (STFT 4.32 to 4.89 and 3.64 to 4.07, the same four); held partials are those from 200 Hz up within 20 dB of the loudest, with no attack in the frame, in
frames of 186 ms and over 46 ms (signalsmith 1.13 / 11.7 to 1.29 / 13.0 cents, Rubber Band 1.47 / 13.6 to 0.56 / 7.4). In the material: an anchor on every second beat, none but attacks within 3 ms of it
counted as anchored (one to six in a performance), somewhat milder ratios (a tenth beyond 0.73 and 1.34), chords spread by 30 ms at most. A perfect warp of
each note by itself, phases as in the ideal, levels as in the source (the oracle; measured aside) scores 1.04 / 0.99 dB, pre-echo +0.4 / +2.0 dB, cents by the first reading 0.06 / 0.6 here, and
0.95 / 1.02 dB, +0.4 / +2.0 dB, 0.0 / 0.5 there. What is not alike: Rubber Band's timing is easier here and its cents at 95 % are
lower (signalsmith's higher); signalsmith's pre-echo is lower and its attacks are duller. Sparser playing, no pedal, louder brushes and chords struck more together brought those no nearer.

## What limits it

- **Held notes' phases.** Four of five moments are the recording itself, moved; what still lies between them and the ideal is
  how old notes beat with new ones, whose distance has changed. A perfect warp of each note by itself, but with the phase of
  what it holds left to chance, would score 1.91 / 1.21 dB, cents 0.70 / 6.0, timing 0.07 / 0.4 / 0.6 ms, pre-echo at
  90 % +1.1 dB on the first four performances; with the right phases 0.34 / 0.43 dB and 0.0 / 0.6 cents.
- **Cents on held partials**, by cause (eight performances from seed 101, each note traced apart through the same warp): with every note's phases
  right at both ends of the measured 5 ms and the levels as they are 0.14 / 2.6 of then 0.53 / 5.3; with the notes' own advance right and only their
  phases to each other as they are 0.34 / 3.6; the strongest note by itself 0.09 / 2.9. So the median is how notes beat: their phases to
  each other are as good as chance (within 0.5 rad in 18 % of moments, by chance 16 %), since a landing 0.2 ms off is half a radian at 440 Hz and only a quarter of
  the newest notes, anchored ones, land to the sample. Of the worst twentieth 40 % lay within 50 ms of a join (12 % of all moments), half of these in
  the middle band; bridges over attacks (\`shared/warp/stretch/bridge.ts\`) carry held partials on there: cents at 95 % 0.2 to 0.4 less in four sets (on how they end see below). 6 % lay in
  windows too short for dense low chords (\`shared/warp/plan/crowding.ts\`); crowded partials that keep still get 186 ms from a steadiness of 0.96 on (of
  0.98: 0.04 less gained; of 0.9: 0.05 more, but low notes with vibrato of their own 3 to 14 cents off). What is left is one third plain copies below 1.2 kHz, that is beating.
- **Timing at anchors.** There are about 15 anchored attacks in a performance, so 95 % is nearly the worst one. All within 20 ms of
  an anchor count, so what is left are spread chords, whose notes the ideal moves one by one, and two attacks closer together than
  a band's least distance; one in twenty performances has a soft note right under a loud one, which no flux shows. Of 47 anchored
  attacks that came over 1.5 ms off in 32 performances some ten lie exactly where they should in every band: soft ones, whose flux is mixed with that of
  held sound and of the join. Some twenty have another note 4 to 20 ms away, which is measured as anchored, too, while only one of the two
  can be moved as the anchor is; eight are not heard; in three the measure's window begins after the onset, since it leaves out 20 ms after the attack before.
  Of two so close that a band can keep one only, the one that an anchor stands for is kept unless the other is twice as strong: anchors 95 % 2.90 to 2.50, 2.62 to 2.47, 0.94 to 0.90 and 1.29 to 0.95 ms (20 performances of the first kind from seed 2101 and 20 from 2121, 20 of the second from 2151 and 40 from 2171; differences 0.40 ± 0.42, 0.14 ± 0.18, 0.04 ± 0.02 and 0.34 ± 0.20;
  beside bridges as they are now 0.10 on 40 others from 2251, 0.01 on 50 from 2121), between anchors 0.05 ± 0.03 ms more, STFT and mel within 0.002 dB.
  Weights of 1.5 and 3 come to about the same; without bound pre-echo at 90 % is 0.3 dB worse on one set. Of 27 anchored attacks of the second kind that came over 1.2 ms off before that in 60 performances 14
  lie where they should in all bands.
  **What perfect hearing would bring** (four sets of eight, from seeds 1, 101, 301, 501): every heard attack landed by its true onset, to the
  sample: median 0.23 to 0.15 ms, but anchors 95 % 2.12 to 2.04, between 1.95 to 1.90 and cents on held partials 0.599 / 5.66 to 0.594 / 5.62 only. Every
  true onset kept, and no other: anchors 2.07, between 1.70, mel 1.839 to 1.819, pre-echo at 90 % 1.98 to 1.91, cents 0.590 / 5.74.
- **Mel** is level, and phase. Played note by note through the same plan, with each note's level set right (over 46 ms, in seven
  bands), three performances of other seeds would score 1.31, 1.45 and 1.88 dB for 1.82, 1.71 and 2.28, as they were before levels were
  carried over attacks; most of that lies before a note's release. They are carried now (\`shared/warp/plan/held-levels.ts\`), which brought
  0.04 to 0.06 dB: how fast one note falls under others can't be measured well, since strings and notes beat. Notes held over attacks are
  2.03 dB off in level with nothing made up for, 1.71 as it is, and would be 1.35 with each note's true mean fall known (two of the
  three). Given every true onset mel fell by 0.03 dB only. With levels carried, three other performances (seeds 301 to 303) would score 1.77 dB for
  2.01 with each note's level set right in this way: 1.86 if held notes alone, 1.95 if those since which nothing began, 1.98 if what was let go. So
  levels alone don't lead to 1.6: no part of the spectrum and no tempo is too loud or too quiet by more than 0.4 dB in the mean, but for what is drawn out by over
  1.4 (0.7 to 1.1 too loud in the last 0.1 s before an attack), and where time runs at 0.9 to 1.1 it is 1.56 dB still. The rest is how notes beat.
  Where a held note's own fall was hardly measured, what is usual at its pitch counts (\`shared/warp/plan/usual-fall.ts\`): mel 0.006 dB, pre-echo at 90 % 0.06 dB.
- **Pre-echo at 90 %** is level, not smear: the places in excess are as loud 20 ms earlier. With each note's level right it was
  0.9 to 1.7 dB on the same three. Moving releases did not help: slope 1 for the last 20, 40 or 80 ms before an attack left it as it
  was or 0.2 dB worse, and mel 0.01 to 0.03 dB worse. Of six performances, 2.00 dB in the mean: with nothing of the coming notes before their
  attack 1.96; with the ideal's own held notes, phases and all, 1.77; its notes since which nothing began 1.99; its releases 1.92. The few far
  worst ones (10 dB and more) are releases right before an attack, in pieces that are shortened and so lose their end. Where such a release is
  heard (\`shared/warp/plan/release.ts\`) it is placed by the map now: over the four sets 68 places, pre-echo at 90 % 2.09, 1.81, 1.63, 2.40 to 1.89, 1.77, 1.51,
  2.35, mel 0.002 to 0.010 better in each, all else alike; on two sets that nothing was tuned on (701, 901) 2.11, 1.85 to 1.93, 1.65, mel 0.007 better.
  **Where all sound of a band is let go**, by 12 dB in 80 ms and for good, it is placed by the map wherever in a piece that is, drawn out or shortened: eight sets of
  six performances (four of the first kind from seeds 101, 301, 501, 701, four of the second from 151, 251, 351, 451; the thresholds chosen on the first two of each) mel 1.724, 1.885, 1.966,
  1.838, 1.491, 1.508, 1.396, 1.726 to 1.717, 1.885, 1.964, 1.831, 1.455, 1.504, 1.397, 1.596, STFT from 0.001 worse to 0.047 better, all else alike. From 8 dB on 0.004 less was
  gained on one set, from 18 on 0.008; placed instead of a release right before the attack, not beside it: pre-echo at 90 % 1.68 to 1.98 on one set.
- **Noise** that is drawn out is stirred (\`shared/warp/stretch/noise.ts\`) where the sum of all parts is flat over some 36 bins: what stays
  peakier is about 0.6 dB at 1.6 and 1.1 at 3 (1.8 and 5.0 before). Between the partials of a blown tone it stays more, 1.5 dB at 3 under
  1 kHz. Grains as of rain get 17 % less bursty at 3. Pieces under 0.3 s are left, since chance there moved a soft attack beside brushes
  by 9 ms (timing at anchors 95 % 2.95 ms, 2.53 so); pink noise under 1 kHz, where false attacks cut it into such pieces, stays 1.1 and 2.0 dB peakier.
- **Vibrato** comes out within 10 % of its depth (9.5 at worst) and 2 % of its rate in all 432 warps of the whole grid of notes that
  die away (110 to 880 Hz, 10 to 60 cents, 4 to 7 Hz, gone in 1 to 6 s; ratios 0.6, 1.3, 2), and nothing stands still for 25 ms more than in
  the ideal. It has to be a lone note, or the louder one: partials of others that stand still outvote it. Several low notes that each swing
  widely by themselves (40 cents at 98, 131 and 196 Hz) are too close together for short windows and move too much for long ones: 95 % of
  moments within 50 to 100 cents; with 20 cents within 8.
- **Rounding.** Parts and their sum are decided once and add up to under -140 dB. A mix that was stored apart differs
  from that sum by what rounding took (3e-8), which used to turn weak peaks otherwise (-73 to -112 dB): peaks in a band's empty bins and such
  as stood 80 dB under the strongest were led by it, and what came into their bins later went on from there. Now a band's bins outside it and peaks under
  -80, -70 and -60 dB go with the one beside them, two bins that are as strong as each other have the same say, and the time plan goes by what was
  measured in steps: -96 to -136 dB on 20 performances of other seeds, STFT and mel within 0.001 dB of before. From -70, -60 and -50 dB on it is -93 to -143, but a
  lone soft tone beside a loud one is weakened by 20 dB where time is drawn out. Since then a fade that ends in its rounding is no release (one piece in
  24 bits -50 to -88 dB), a partial that is barely a peak is held in part (one in float -54 to -104), and decay counts in half decibels.
  Then what was all or nothing became more or less (one in 24 bits -26 to -82 dB, one in float -97 to -121): the turn of a peak that is hardly audible or
  hardly a peak is mixed with the one of the peak that it is joined to, bins between two valleys of nearly one depth go with both peaks, partials are
  bridged over attacks in part where they only just are, whether sound moves is told by frames that are heard (half a say at -60 dB), and level falls as measured, not in
  steps. Of 42 performances of other seeds stored in float one came to -91 dB, all others to -110 to -130; of 58 in 24 bits, where rounding alone sets -102
  to -112, the worst to -69, -70 and -76, the median lay 20 dB over rounding. The one in float was led by what a frame that is cut off at a piece's end
  spreads into the low band's empty upper bins: a peak whose bin was under the same bound a hop ago goes with the one beside it now, and of two bins as high, two
  apart, both are peaks, since whose valley lies between them hung on which was. **Of 32 performances in float (seeds 451, 1901, 2001, 3101) the worst went from -80.5 to -94.1 dB, nine in ten from 57 to
  37 dB over rounding, the median from 28 to 23; 24 of them in 24 bits stay as they were, worst -77, 20 dB over rounding in the middle.** With a turn mixed from its neighbours' own instead: -91 to -77 dB. What is left in 24 bits: sound some 50 dB over its rounding whose turns are mixed moves by tens of times what it was rounded by, and louder sound that comes into its
  bins goes on from there (the high band before an attack where time runs at a seventh); one attack placed otherwise, in one of 60 (not looked into).
  Mixed turns without their lengths kept: the same nulls to 3 dB better, but white noise three times as long lost 3.7 dB over 5 kHz. Over 3 % of power
  and valleys over 5 %: 1 to 3 dB worse in 24 bits; over 10 and 30 %: 1 dB better, STFT 0.003 and mel 0.005 dB worse. Peaks as recorded whose bin held 70 dB less a hop ago: nothing.
  Phases led by sums over neighbouring bins instead of the nearest peak (weights 1, 0.3, 0.08 times power squared) are worth 10 dB in 24 bits (median 13 dB over
  rounding instead of 23) and nothing in float; they made STFT 0.015 dB, cents at 95 % 0.1 to 0.3 and pre-echo at 90 % on the first set 0.2 dB better, but
  timing a little worse on each set (median 0.184 to 0.192, anchors 95 % 1.32 to 1.44, between 1.76 to 1.89 ms on the second, anchors 2.45 to 2.70 on the first), so they were taken out again.

Tried without gain: frames that overlap by seven eighths (STFT 0.003 to 0.008 dB worse on two sets, twice the work), attacks up to 9 ms behind an anchor moved as it is, where
none nearer is heard (anchors 95 % 0.95 to 0.84 ms on 40 performances, 1.35 to 1.41 on 40 others; to 12 or 16 ms no more), the fall inside a drawn-out piece bin by bin, as measured there and as is usual at its pitch (mel within 0.005 of the band's own, pre-echo at
90 % 1.68 to 1.73 and up to 1.95), holding partials in the middle band (cents 0.67 / 7.1, but timing between attacks 2.4 to 2.9 ms), other
reaches and thresholds of holding, crossfades of 1 and 3 ms, other least distances of attacks, decay measured over the last 0.15
to 0.5 s, edges at 0.9 to 2 kHz, a low window of 186 ms. Local time off the map by up to
0.5 s where a piece is drawn out (nothing gained); 1 s instead of 0.3 counts where a piece is shortened and nothing in it rises (mel 0.04 to 0.05).
Bridges that are let go from 20 to 100 ms after the attack, in the low band beside or instead of turns (cents 0.00 and 0.5 worse), in the high one (mel 0.005 worse), for partials that the frame after the
attack does not show where they should be (STFT 0.02 worse), let go over 0.2 to 0.4 s (mel up to 0.02 worse).
Slowest time of 0.05 instead of 0.15 (mel 0.004 to 0.007 better, between anchors 95 % 2.4 to 2.9 ms on one set) and 0.35 (anchors 95 % 2.2 to 1.8 ms on one
set, mel 0.01 to 0.03 worse); slope 1 before an attack
in drawn-out pieces for 80, 120, 200 ms (mel 0.03 to 0.12 worse) and for half the window's half (mel 0.01 better, anchors 95 % 2.2 to 2.8 ms on one set). The gain for what falls inside a piece bin by bin, as measured (mel 0.06 worse); held levels in the high band too (mel 0.01
better, 5 ms a second more), from the result's own level before an attack (0.01 to 0.02 less gained), made up for in full (0.02 less than at 0.7); sound's own fall followed up to 60 dB a
second and twice as measured (pre-echo 0.1 better, mel 0.007 worse). Low attacks by
more that is new (0.5, 0.8 for 0.3: pre-echo 1.9 to 2.3 dB) or more flux (half as much again: cents 0.01 better, pre-echo 0.2 worse on one set).
Flux against the last 25 ms instead of 35 (anchors 95 % 1.6 to 1.4 ms, but cents at 95 % 6.4 to 7.0 and mel 0.04 worse) or 45 (the
other way round), lower and higher thresholds, attacks from 10 ms apart in the middle band. Believing anchors that something begins there where flux alone
shows no attack: it helped where a soft note lies under a loud one and harmed more where nobody plays on the beat (anchors 95 % 2.8 to
3.3 ms, mel 1.94 to 1.97).
Lower thresholds right after anchors alone, at 0.8, 0.6 and 0.4 (anchors 95 % 2.30 to 2.26 ms, mel 0.004, 0.010 and 0.029 worse). Attacks that go on rising begun
up to 8 or 12 ms before their peak also where another one lies close before (anchors 95 % 2.37 to 2.45 for 2.34 ms). Crossfades of 3, 4, 6 ms in the low band, 3 in the middle one, 1 and
3 in the high one (within 0.1 ms); of up to 5 ms where a band's own flux is low: STFT 0.006 dB better, but beside bridges anchors 95 % 2.06 to 2.09
and between 2.07 to 2.11 ms, sharpness in the worst tenth 0.87 to 0.86 (without bridges anchors 2.16 to 2.10). Usual falls in full instead of 0.7 (mel within
0.001), with 0.85 instead of 0.7 made up for (mel 0.006 worse), up to 40 dB a second (0.003 worse); partials told apart over one bin each side (mel 0.002 better, noise peakier).
Choosing between close attacks by their flux in the band, and restarting at anchors only bands that hold something new: won on one set
(mel 0.01, anchors 95 % 0.1 ms), lost on another (anchors 1.3 to 2.2 ms, sharpness in the worst tenth 0.86 to 0.83).

Where a piece is drawn out, **slope 1 before the next attack for a quarter of a window instead of half of one in the middle band** (built in; chosen on six sets of eight, then 80 performances of
other seeds, differences piece by piece): STFT 0.0075 and 0.0057 dB (standard errors 0.0007, 0.0005), mel 0.0054 and 0.0067 (0.0008) and cents at 95 % 0.03 and 0.01 better, timing within chance (anchors +0.01 ± 0.11 and +0.08 ± 0.17 ms,
between -0.15 ± 0.16 and +0.33 ± 0.23). The same in the low band: pre-echo 0.03 to 0.04 dB less in the middle, but cents at 95 % 0.08 more on one kind; in the high one: STFT 0.004 to 0.007 better, anchors 0.3 ms worse on
one; a fifth of half a window everywhere: anchors 1.4 to 2 ms worse, as frames cut off at the attack blur. Slowest time of 0.05 in the two upper bands: STFT 0.008, mel 0.005 better, but grains as of rain off by 18 % at three times
their length instead of 3, breath 2.15 dB peakier for 1.92; in the low one pink noise 2.13 for 1.94. Half as much again of the measured fall, up to 60 dB a second: pre-echo 0.03 less in the middle, 0.05 to 0.08 at 90 %, mel up to 0.005 worse.
Pre-echo in the middle is 0 where time runs at 0.9 to 1.1 or is shortened, 0.3 to 0.8 dB where it is drawn out, kept attacks or not: the level of what is drawn out. Of 2417 places 341 were drawn out over an attack that the low band does not keep or hear (mean +0.8 dB).
**What is drawn out at the mean level of its last moments** was not built, since it can't win: moved in mel bands to the mean or the straight line of the last 0.1, 0.2 or 0.4 s, by a quarter, half or all, it brings 0.005 dB of mel at best (0.1 s, by a quarter)
and costs up to 0.09 (0.2 s, all; 12 performances of each kind). Nor is what is too loud there of one kind: its median, taken off by band and distance from the attack, comes to 0.002 to 0.003 dB, most of that in the high band (1 dB too loud); each place's own median
taken off, which nobody knows, to 0.05.

Copies begun before the attack: **in the low band** by 3 ms pre-echo at 90 % 0.04 to 0.14 dB better in each of six sets (2 ms: 0.05 to 0.09; 6 ms: 0.1 to 0.2, mel 0.004 worse), STFT
0.002, mel up to 0.003 and cents at 95 % up to 0.04 worse, but pink noise under 1 kHz at three times its length 0.9 dB too soft for 0.8; 1.5 ms after it: nothing. In the middle band by 1 or 2 ms, in the high one by 0.7 ms: sharpness 0.01 to 0.02 less, timing
from 0.5 ms better to 0.2 worse.

**Bridges that turns take over from** (built in). They used to be let go from 20 to 100 ms after the attack, which bends what they carry, and the low band had held partials turned instead, with all that begins in their bins. Now both lower bands have bridges, in full for
as long as frames hold the attack (half a window, three quarters of that in the low band); then each peak is turned so that it goes on from what stands in the result. On 80 performances of other seeds (40 of the first kind from seed 2121, 40 of the second from 2251; differences piece by piece with their standard errors, beside the weight of anchors above): STFT 0.0047 ± 0.0012 and
0.0066 ± 0.0012 dB, mel 0.0060 ± 0.0011 and 0.0063 ± 0.0012, cents in the middle 0.007 ± 0.0015 and 0.001 ± 0.0007 better, sharpness at anchors 1.004 to 1.009 and 0.981 to 0.990, all else within chance (anchors 0.28 ± 0.17 and 0.07 ± 0.09 ms less, between 0.20 ± 0.17 more and 0.00 ± 0.08,
pre-echo at 90 % 0.01 ± 0.04 and 0.02 ± 0.02 less, cents at 95 % 0.01 ± 0.03 and 0.02 ± 0.02 more); stems beside a mix stored apart as they were. Taken over from in the middle band alone: STFT 0.002, mel 0.002 to 0.004 better,
cents up to 0.006. In the low one after half of that: as good, but breath three times as long 0.84 dB too soft under 1 kHz for 0.67; after all of it: cents at 95 % 0.02 to 0.07 worse. Turns in the low band where a bridge does not reach: mel 0.001 to 0.002 less gained. In the high band, too: nothing, at 2 ms a
second. Phases that differ by up to 0.1 left alone, instead of 0.02: a tone of 440 Hz under strokes bends by 6 cents. Frequencies not corrected by the frame after the attack: cents at 95 % 0.04 worse.

On 12 to 20 performances of each kind, without gain: copies at anchors begun 0 to 3 ms after them where they are heard later (sharpness 0.01 to 0.02 less); windows of 46 ms in the middle band (STFT 0.05 and 0.08, mel 0.014 worse), of 12 ms in the high one (STFT 0.01 worse), of 46 ms there
(STFT 0.007 and 0.016 better, mel and timing as they were; rain and breath not looked at); crossfades of equal power (sharpness 0.02 to 0.04 less), linear (median timing 0.01 ms worse), steeper (STFT 0.003 worse); phases led by neighbouring bins in one band alone (nothing;
in the low one timing went off by milliseconds on some, which was not looked into).

Tried and not built in: **held sound continued by linear prediction**. Burg's method over the 140 ms before an attack, of source and
result together (of the source alone it blew up), the low band at a rate that leaves no empty band (else it loses 8 dB); the difference of
result and source so continued is added to the copy, then turns take over from what that wrote. It continues real sound to -20 dB over
50 ms once 150 ms have passed since the last attack, -8 dB right after one, where sines with a decay reach -14 and -4. In both lower
bands instead of held peaks, order 46 ms, on sixteen performances (seeds 101 to 108, 301 to 308): STFT 2.80 to 2.76 dB, anchors 95 % 1.8
to 1.5 ms, between 1.8 to 2.0, cents at 95 % 5.9 to 5.6. In the middle band alone, order 30 ms, held peaks kept in the low one, on four
sets of eight (from seeds 101, 301, 501, 1): STFT 0.020 to 0.027 dB and cents at 95 % 0.3 to 0.5 better in each, mel from 0.004 better to
0.005 worse; anchors 95 % 1.3 to 1.1, 2.2 to 2.0, 2.6 to 3.2 and 3.0 to 2.5 ms, between 1.3 to 1.2, 2.4 to 2.2, 2.9 to 2.8 and 1.8 to 2.3.
Rounding alone moves these by 0.1 to 0.5 ms, so timing is a draw. The fast form of Burg's method (Vos 2013, several signals in one
recursion, floor -60 dB, double precision) gives the same predictor to 2e-6 and makes it 7 ms a second in plain TypeScript: 3 for the
predictor, 1.2 to continue with it, 3 for frames that are turned from then on. Left out, since it brings the whole over 20 ms and betters cents
only; bridges of sines (above) bring about as much at next to no cost. Order 23 ms costs 1.3 less (cents and timing alike); one signal of both channels to fit by:
mel 0.002 worse. Without turns once it has faded: mel 0.02 worse, cents at 95 % 0.0 to 0.2 better. A first turn that takes over the level as well was worse
(mel 2.1).

Tried and not built in: **close attacks copied from the first one on**, moved as the strongest is. In those 32 performances 38 anchored
attacks come over 1.8 ms off: 23 have another note 4 to 20 ms away, but for 14 of these a single attack is heard, and at 5 of all nothing is
kept within 20 ms; so a time of its own for each note of a spread chord finds too little to hold on to. In all bands: anchors 95 % of all
together 2.50 to 2.38 ms, between 2.58 to 2.16, but cents at 95 % 0.1 to 0.3 and pre-echo at 90 % 0.0 to 0.2 dB worse in each set; up to 12 ms
apart only: 2.50 to 2.36, between 2.58 to 2.64; in the low band up to 20 ms: 2.40 and 2.35, between 2.4 to 2.9 on one set; in the upper bands
alone: 2.50 and 2.35, anchors worse on two sets. Nor does it help to know them: with every true onset given and attacks kept from 6 ms apart on in
all bands, time bent between them, anchors 95 % of the four sets come to 2.88 ms (2.07 with the least distances as they are); at slope 1 between them,
with a crossfade of 2 ms that repeats or drops under 8 ms, to 2.70; in the middle band alone to 2.27.

Tried and not built in: **releases otherwise**. Placed by the map wherever one truly is, the last before the attack: pre-echo at 90 % 1.98 to 1.81, but
mel 0.004 and STFT 0.013 dB worse; the first one: 1.88, 0.006, 0.017. Heard by a fall of 3 dB instead of 5: 1.86, 0.003 worse than with 5; of 4: within
0.001; over 80 ms instead of 40: of 6 dB within 0.001, of 3 dB 0.009 worse; looked for within 0.4 s: pre-echo 1.96. In drawn-out pieces as
well: mel 0.007 better on one set, 0.003 worse on another.

Signalsmith-stretch is driven in its worklet's own way, block by block, outside a browser; Rubber Band (GPL, an outside reference
only) by its command with one key-frame map. Both know nothing of stems, so theirs are warped apart.
`;
  writeFileSync(fileURLToPath(new URL('warp.md', import.meta.url)), text);
}
