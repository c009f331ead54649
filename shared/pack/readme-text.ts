import type { Manifest } from './manifest.ts';

const width = 78;

/** Paragraphs broken at `width`, lists kept; lines end CR LF, so that every plain viewer shows them. */
function page(blocks: readonly (string | readonly string[])[]): string {
  const lines = blocks.flatMap((block) => [
    ...(typeof block === 'string' ? wrap(block) : block),
    '',
  ]);
  return `${lines.join('\r\n').trimEnd()}\r\n`;
}

function wrap(text: string): string[] {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line && line.length + word.length + 1 > width) {
      lines.push(line);
      line = word;
    } else line = line ? `${line} ${word}` : word;
  }
  return line ? [...lines, line] : lines;
}

/** README.txt: what lies where, in words. */
export function readmeText(manifest: Manifest): string {
  const { take, lanes, slices, stems, tempoMap } = manifest;
  const key = take.key.mode === 'unclear' ? 'unclear' : `${take.key.tonic} ${take.key.mode}`;
  return page([
    [manifest.name, '='.repeat(Math.min([...manifest.name].length, width))],
    `Recorded without a click. This pack holds the whole take with its time written down, ${lanes.length === 1 ? 'one fixed-tempo loop' : `${lanes.length} fixed-tempo loops`}, and ${slices.length} slices to build with.`,
    [
      `Key      ${key}`,
      `Tuning   A4 = ${take.tuning.a4.toFixed(1)} Hz (${take.tuning.cents >= 0 ? '+' : ''}${take.tuning.cents.toFixed(1)} cents)`,
      `Rate     ${take.sampleRate} Hz`,
    ],
    ['THE TAKE', `  ${take.file}`, ...stems.map((stem) => `  ${stem.file}`)],
    'Byte for byte as they came. To make the grid of a sequencer follow the players, set the tempo map at the very start of an empty project, with its tempo and time signature events, and the take and stems at the same place. Phrases are markers in it.',
    [`  ${tempoMap.file}`, `  ${tempoMap.beatsFile}`],
    'To record further players to the take, give them the guide click; it follows the players:',
    [`  ${tempoMap.clickFile}`],
    ...lanes.flatMap((lane) => [
      [`LOOP "${lane.name}"`, ...lane.files.map((file) => `  ${file.file}`), `  ${lane.midi}`],
      `${lane.bars} bars of ${lane.beatsPerBar}/${lane.beatUnit} at ${lane.bpm} beats a minute. All parts are exactly ${lane.files[0]?.samples ?? 0} samples long and start together; the tail of the last note already rings over the start, so the loop repeats without a gap.`,
    ]),
    ['SLICES', '  slices/'],
    'Each holds what leads into its attack; the attack that counts is a cue point named "landing". The MIDI file of a loop plays them by the notes that manifest.json gives. Middle C is C4 (60).',
    ['REPORT', '  report.html'],
    'To read and to print: tempo, loops, loudness, tuning, and how far each attack stands from the grid. manifest.json says the same to programs; manifest.schema.json is its shape (JSON Schema 2020-12).',
    ...(manifest.warnings.length > 0
      ? [['TO MIND', ...manifest.warnings.flatMap((w) => wrap(`- ${w}`))]]
      : []),
  ]);
}

/** credits.txt: as the maker typed them, or what must be filled in. */
export function creditsText(manifest: Manifest, credits = '', terms = ''): string {
  return page([
    [`Credits: ${manifest.name}`],
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
    'This note is a reminder and no legal advice.',
  ]);
}
