import { spawnSync } from 'node:child_process';
import Meyda from 'meyda';
import MusicTempo from 'music-tempo';
import { hearTake } from '../../../shared/cut/hear-take.ts';
import { fixBeats, startBeats } from '../../../shared/hear/beats/fixes.ts';
import type { Key, Phrase, Tuning } from '../../../shared/hear/heard.ts';
import type { Seconds } from '../../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../../shared/take/audio.ts';
import type { Correct } from '../../metrics/correcting-person.ts';

/** What one listener made of a recording. */
export interface Heard {
  readonly onsets?: readonly Seconds[];
  readonly beats?: readonly Seconds[];
  /** Begins a round of corrections; a listener without has its list edited by hand. */
  readonly corrector?: () => Correct;
  readonly phrases?: readonly Phrase[];
  readonly tuning?: Tuning;
  readonly key?: Key;
}

export interface Listener {
  readonly name: string;
  readonly listen: (audio: Audio, file: string) => Heard;
}

const ours: Listener = {
  name: 'Unclicked',
  listen: (audio) => {
    const heard = hearTake(audio);
    return {
      onsets: heard.onsets.map((onset) => onset.time),
      beats: heard.beats.map((beat) => beat.time),
      corrector: () => {
        let state = startBeats(heard.evidence);
        return (fix) => {
          state = fixBeats(heard.evidence, state, fix);
          return state.times;
        };
      },
      phrases: heard.phrases,
      tuning: heard.tuning,
      key: heard.key,
    };
  },
};

function mono(audio: Audio): Float32Array {
  const mixed = new Float32Array(lengthOf(audio));
  for (const channel of audio.channels) {
    for (let i = 0; i < mixed.length; i++) mixed[i] += channel[i] / audio.channels.length;
  }
  return mixed;
}

/** music-tempo (MIT): onsets by spectral flux and beats after Dixon 2001, as it comes. */
const musicTempo: Listener = {
  name: 'music-tempo 1.0.3',
  listen: (audio) => {
    const hop = Math.round(audio.sampleRate / 100);
    const seconds = hop / audio.sampleRate;
    try {
      const found = new MusicTempo(mono(audio), { hopSize: hop, timeStep: seconds });
      return { onsets: found.peaks.map((peak) => peak * seconds), beats: found.beats };
    } catch {
      // It throws where it finds no tempo.
      return { onsets: [], beats: [] };
    }
  },
};

/**
 * meyda (MIT) gives features and no onsets (and its spectralFlux throws in strict mode): rises of its
 * amplitude spectrum every 10 ms, and the textbook picker (a peak over the local mean; Dixon 2006,
 * "Onset detection revisited", DAFx-06).
 */
const meyda: Listener = {
  name: 'meyda 5.6.3 + plain picker',
  listen: (audio) => {
    const signal = mono(audio);
    const hop = Math.round(audio.sampleRate / 100);
    Meyda.bufferSize = 2048;
    Meyda.sampleRate = audio.sampleRate;
    const flux: number[] = [];
    let before = new Float32Array(1024);
    for (let at = 0; at + 2048 <= signal.length; at += hop) {
      const frame = signal.subarray(at, at + 2048);
      const spectrum = Float32Array.from(
        Meyda.extract('amplitudeSpectrum', frame) as unknown as Float32Array,
      );
      let rise = 0;
      for (let k = 0; k < spectrum.length; k++) rise += Math.max(0, spectrum[k] - before[k]);
      flux.push(rise);
      before = spectrum;
    }
    const mean = flux.reduce((sum, x) => sum + x, 0) / flux.length;
    const deviation = Math.sqrt(flux.reduce((sum, x) => sum + (x - mean) ** 2, 0) / flux.length);
    const onsets: number[] = [];
    for (let i = 3; i + 3 < flux.length; i++) {
      const around = flux.slice(i - 3, i + 4);
      const local = flux.slice(Math.max(0, i - 9), i + 4);
      const floor = local.reduce((sum, x) => sum + x, 0) / local.length;
      if (flux[i] < Math.max(...around) || flux[i] < floor + 0.1 * deviation) continue;
      onsets.push((i * hop + 1024) / audio.sampleRate);
    }
    return { onsets };
  },
};

function numbers(program: string, file: string): number[] {
  const done = spawnSync(program, ['-i', file], { encoding: 'utf8' });
  return done.stdout
    .split('\n')
    .map((line) => Number.parseFloat(line))
    .filter(Number.isFinite);
}

/** aubio's programs (GPL): an outside reference, called where installed. */
const aubio: Listener = {
  name: 'aubio (GPL, outside)',
  listen: (_, file) => ({
    onsets: numbers('aubioonset', file),
    beats: numbers('aubiotrack', file),
  }),
};

export function listeners(): Listener[] {
  const all = [ours, musicTempo, meyda];
  if (spawnSync('aubioonset', ['-h']).error === undefined) all.push(aubio);
  return all;
}

/** The list edited by hand: a beat set takes the place of the nearest one shown within 150 ms. */
export function byHand(beats: readonly Seconds[]): Correct {
  let shown = [...beats];
  let set: Seconds[] = [];
  return (fix) => {
    if ('beat' in fix) {
      const far = (time: Seconds): number => Math.abs(time - fix.beat);
      const nearest = [...shown].sort((a, b) => far(a) - far(b))[0];
      if (nearest !== undefined && far(nearest) < 0.15) shown = shown.filter((t) => t !== nearest);
      set.push(fix.beat);
    } else if ('notBeat' in fix) {
      shown = shown.filter((time) => time !== fix.notBeat);
      set = set.filter((time) => time !== fix.notBeat);
    }
    return [...shown, ...set].sort((a, b) => a - b);
  };
}
