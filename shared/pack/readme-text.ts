import { median } from '../math/median.ts';
import type { Manifest } from './manifest.ts';
import { counted, keyWords, lengthWords, tuningWords } from './pack-words.ts';

/** For viewers that know ASCII alone. */
const plain = (text: string) => text.replaceAll('\u2212', '-');

const width = 78;

const indented = (text: string, first: string) =>
  wrap(text, width - first.length).map(
    (line, i) => (i === 0 ? first : ' '.repeat(first.length)) + line,
  );

/** Paragraphs broken at `width`, lists kept; lines end CR LF, so that every plain viewer shows them. */
function page(blocks: readonly (string | readonly string[])[]): string {
  const lines = blocks.flatMap((block) => [
    ...(typeof block === 'string' ? wrap(block) : block),
    '',
  ]);
  return `${lines.join('\r\n').trimEnd()}\r\n`;
}

function wrap(text: string, most = width): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line && line.length + word.length + 1 > most) {
      lines.push(line);
      line = word;
    } else line = line ? `${line} ${word}` : word;
  }
  return line ? [...lines, line] : lines;
}

/** README.txt: what lies where, in words. */
export function readmeText(manifest: Manifest): string {
  const { take, lanes, slices, stems, tempoMap, beats, artist } = manifest;
  const parts = [
    'mix',
    ...stems.map((stem) => (stem.variant ? `${stem.part} (${stem.variant})` : stem.part)),
  ];
  const intervals = beats.slice(1).map((beat, i) => beat.time - beats[i].time);
  return page([
    [manifest.name, '='.repeat(Math.min([...manifest.name].length, width))],
    `${artist ? `By ${artist}. ` : ''}Recorded without a click. This pack holds the whole take with its time written down, ${counted(lanes.length, 'fixed-tempo loop')}, and ${counted(slices.length, 'slice')} to build with.`,
    [
      `Length   ${lengthWords(take.samples / take.sampleRate)}`,
      `Tempo    ${intervals.length > 0 ? `free, about ${(60 / median(intervals)).toFixed(0)} beats a minute` : 'free'}`,
      `Key      ${keyWords(take.key)}`,
      `Tuning   ${plain(tuningWords(take.tuning))}`,
      `Rate     ${take.sampleRate} Hz`,
      `Parts    ${parts.join(', ')}`,
    ],
    ['THE TAKE', '', `  ${take.file}`, ...stems.map((stem) => `  ${stem.file}`)],
    'Byte for byte as they came. To make the grid of a sequencer follow the players, set the tempo map at the very start of an empty project, with its tempo and time signature events, and the take and stems at the same place. Phrases are markers in it.',
    [`  ${tempoMap.file}`, `  ${tempoMap.beatsFile}`],
    'To record further players to the take, give them the guide click; it follows the players:',
    [`  ${tempoMap.clickFile}`],
    ...lanes.flatMap((lane) => [
      [`LOOP "${lane.name}"`, '', ...lane.files.map((file) => `  ${file.file}`), `  ${lane.midi}`],
      `${counted(lane.bars, 'bar')} of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} beats a minute, ${lane.files[0]?.samples ?? 0} samples at ${lane.files[0]?.sampleRate ?? 0} Hz.`.replace(
        /^./,
        (letter) => letter.toUpperCase(),
      ),
    ]),
    ...(lanes.length > 0
      ? [
          'All parts of a loop are of one length and start together; the tail of the last note already rings over the start, so that it repeats without a gap. The MIDI file plays the slices by the notes that manifest.json gives, so that the loop can be made again elsewhere. Middle C is C4 (60).',
        ]
      : []),
    ['SLICES', '', '  slices/'],
    'Named by line and place in the take, with the note where a single one is heard. Each holds what leads into its attack; the attack that counts is a cue point named "landing".',
    ['REPORT, CREDITS', '', '  report.html', '  credits.txt', '  clearance.txt'],
    'The report is to read and to print: tempo, loops, loudness, tuning, and how far each attack stands from the grid. manifest.json says the same to programs; manifest.schema.json is its shape (JSON Schema 2020-12).',
    ...(manifest.warnings.length > 0
      ? [['TO MIND', '', ...manifest.warnings.flatMap((w) => indented(w, '  - '))]]
      : []),
  ]);
}

/** credits.txt: as the maker typed them, or what must be filled in. */
export function creditsText(manifest: Manifest): string {
  const credits = manifest.credits ?? '';
  const terms = manifest.terms ?? '';
  return page([
    [`Credits: ${manifest.name}`, ...(manifest.artist ? [`By ${manifest.artist}`] : [])],
    credits.trim()
      ? credits.trim().split(/\r?\n/)
      : [
          'Played by:',
          ...manifest.stems.map((stem) => `  ${stem.part}:`),
          'Written by:',
          'Recorded by:',
          'Where, when:',
        ],
    ['Terms'],
    terms.trim()
      ? terms.trim().split(/\r?\n/)
      : 'None were stated. Ask the maker before you use this recording.',
  ]);
}

/** clearance.txt: what whoever uses the pack has to have settled. No legal advice, a list not to forget. */
export function clearanceText(manifest: Manifest): string {
  return page([
    [`Clearance: ${manifest.name}`],
    'A use of this recording touches two rights, and they may lie with different people: the recording (the players and whoever paid for the session) and the work that is played (its writers and publishers). Cutting, turning round and bending the time of a recording does not change who holds them.',
    [
      '[ ] players have agreed to this use, in writing',
      '[ ] whoever owns the recording has agreed',
      '[ ] the work is by:                        publisher:',
      '[ ] shares are agreed:',
      '[ ] credit line is agreed:',
      '[ ] terms in credits.txt are the ones that hold',
    ],
    `The take this pack was cut from is ${manifest.take.file}, SHA-256 ${manifest.take.hash}.`,
    'This note is a reminder and no legal advice: licensed practice and local law decide.',
  ]);
}
