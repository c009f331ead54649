import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type BeatEvidence, evidenceFrom } from '../../../shared/hear/beats/evidence.ts';
import { measureFeatures } from '../../../shared/hear/beats/features.ts';
import { hearingSignal } from '../../../shared/hear/hearing-signal.ts';
import { hearAttacks } from '../../../shared/hear/onsets/onsets.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import { secondsOf } from '../../../shared/take/audio.ts';
import { record, type Session } from '../../perform/record.ts';
import type { Kind } from '../../perform/truth.ts';

export const BEATS_CACHE = fileURLToPath(
  new URL('../../../node_modules/.cache/unclicked-heard-attacks', import.meta.url),
);

/**
 * A performance with what is heard in it before any beat is: its attacks, the possible ones too, as takes are heard. The
 * weights that ship were taught on the sure ones alone, before the others were kept.
 */
export interface HeardPiece {
  readonly name: string;
  readonly kind: Kind;
  readonly seconds: Seconds;
  readonly beats: readonly Seconds[];
  readonly other: readonly Seconds[];
  /** Time and MIDI note number of what is played. */
  readonly notes: readonly (readonly [Seconds, number])[];
  readonly evidence: BeatEvidence;
}

const arrays = ['rise', 'energy', 'fresh', 'chroma'] as const;

/** Where what was heard in a performance is kept. */
export const fileOf = (name: string) => join(BEATS_CACHE, `${name}.json`);

/** Records a performance and hears it, or remembers having done so. */
export function heardPiece(session: Session): HeardPiece {
  const file = fileOf(session.name);
  if (!existsSync(file)) {
    const { audio, truth } = record(session);
    const sound = hearingSignal(audio);
    const onsets = hearAttacks(audio, undefined, sound).possible;
    const features = measureFeatures(audio, onsets, sound);
    const plain = arrays.map((name) => [
      name,
      Array.from(features[name], (x) => Math.round(x * 1e4) / 1e4),
    ]);
    mkdirSync(BEATS_CACHE, { recursive: true });
    writeFileSync(
      file,
      JSON.stringify({
        name: session.name,
        kind: session.kind,
        seconds: secondsOf(audio),
        beats: truth.beats.map((beat) => beat.time),
        other: truth.otherBeats,
        notes: truth.notes.map((note) => [note.time, note.pitch]),
        onsets,
        ...Object.fromEntries(plain),
      }),
    );
  }
  const { onsets, rise, energy, fresh, chroma, ...piece } = JSON.parse(readFileSync(file, 'utf8'));
  const features = {
    rise: Float64Array.from(rise),
    energy: Float64Array.from(energy),
    fresh: Float64Array.from(fresh),
    chroma: Float64Array.from(chroma),
  };
  return { ...piece, evidence: evidenceFrom(piece.seconds, onsets, features) };
}
