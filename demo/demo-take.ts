import type { Progress } from '../shared/math/progress.ts';
import type { Hertz } from '../shared/math/units.ts';
import type { Audio } from '../shared/take/audio.ts';
import { makeChance } from './chance.ts';
import { hearThrough } from './convolution.ts';
import { bodyResponses } from './instruments/body.ts';
import { playClarinet } from './instruments/clarinet.ts';
import { playDrum } from './instruments/drum.ts';
import { playGuitar } from './instruments/guitar.ts';
import { demoNames, type Player, playerOrder } from './names.ts';
import { type Performance, perform } from './performance.ts';
import { type Place, roomResponse } from './room.ts';
import { type DemoTruth, tuningCents, writeTruth } from './truth.ts';

/** The demo take: the mix, the stems that add up to it, and what is true of it. */
export interface DemoTake {
  readonly mix: Audio;
  readonly stems: readonly { readonly label: string; readonly audio: Audio }[];
  readonly truth: DemoTruth;
}

const rate: Hertz = 44100;
/** Samples lie on the grid of 24 bits, as a recorder writes them: so stems add up exactly in any order. */
const grid = 2 ** 23;
const places: Record<Player, Place> = {
  guitar: [3.5, 3.3, 1.0],
  clarinet: [5.0, 3.5, 1.25],
  drum: [4.3, 4.3, 0.9],
};
const gains: Record<Player, number> = { guitar: 0.5, clarinet: 1.93, drum: 0.7 };
/** What a room sounds like when nobody plays: hiss and a little rumble, about -80 dBFS in each stem. */
const quiet = 1.2e-4;

/** What is true of the demo take, without its sound. */
export function demoTruth(): DemoTruth {
  return writeTruth(perform());
}

/** Plays and records the demo take: about 90 s of three players in one room, the same bytes every time. */
export function renderDemo(progress?: Progress): DemoTake {
  const performance = perform();
  const truth = writeTruth(performance);
  const length = Math.round(truth.seconds * rate);
  const stems = playerOrder.map((player, index) => {
    const { name, instrument } = demoNames.players[player];
    progress?.(index / playerOrder.length, `${name} plays`);
    const dry = play(player, performance, length);
    progress?.((index + 0.5) / playerOrder.length, 'the room answers');
    const heard = hearThrough(dry, responsesOf(player));
    const channels = heard.map((channel, side) =>
      record(channel, gains[player], 70 + 2 * index + side),
    );
    return { label: instrument, audio: { sampleRate: rate, channels } };
  });
  const channels = [0, 1].map((side) => {
    const sum = new Float32Array(length);
    for (const stem of stems) {
      const channel = stem.audio.channels[side];
      for (let n = 0; n < length; n++) sum[n] += channel[n];
    }
    return sum;
  });
  progress?.(1, 'done');
  return { mix: { sampleRate: rate, channels }, stems, truth };
}

function play(player: Player, performance: Performance, length: number): Float64Array {
  const notes = performance.notes.filter((note) => note.player === player);
  if (player === 'guitar') return playGuitar(notes, length, rate);
  if (player === 'clarinet') return playClarinet(notes, tuningCents.clarinet, length, rate);
  return playDrum(notes, length, rate);
}

/** The room for a player; the guitar's body is part of the way to the microphones. */
function responsesOf(player: Player): Float64Array[] {
  const room = roomResponse(places[player], 20 + playerOrder.indexOf(player), rate);
  if (player !== 'guitar') return room;
  const bodies = bodyResponses(rate, 5);
  return room.map((response, side) => {
    const padded = new Float64Array(response.length + bodies[side].length);
    padded.set(response);
    return hearThrough(padded, [bodies[side]])[0];
  });
}

/** Sets a channel's level, adds the room's quiet and writes 24-bit samples as floats. */
function record(channel: Float64Array, gain: number, seed: number): Float32Array {
  // Two loops of noise of lengths without a common divisor do not repeat together within a take.
  const [one, other] = [44101, 39989].map((size, index) => roomTone(size, 2 * seed + index));
  const out = new Float32Array(channel.length);
  // A microphone hears nothing below some 45 Hz: second-order Butterworth, twice its zero at 0 Hz.
  const omega = (2 * Math.PI * 45) / rate;
  const alpha = Math.sin(omega) * Math.SQRT1_2;
  const b0 = (1 + Math.cos(omega)) / 2 / (1 + alpha);
  const a1 = (-2 * Math.cos(omega)) / (1 + alpha);
  const a2 = (1 - alpha) / (1 + alpha);
  let first = 0;
  let second = 0;
  let i = 0;
  let j = 0;
  for (let n = 0; n < out.length; n++) {
    const x = gain * channel[n];
    const y = b0 * x + first;
    first = -2 * b0 * x - a1 * y + second;
    second = b0 * x - a2 * y;
    out[n] = Math.round((y + one[i] + other[j]) * grid) / grid;
    i = i + 1 < one.length ? i + 1 : 0;
    j = j + 1 < other.length ? j + 1 : 0;
  }
  return out;
}

/** Hiss and a little rumble. */
function roomTone(size: number, seed: number): Float64Array {
  const chance = makeChance(seed);
  const tone = new Float64Array(size);
  let low = 0;
  for (let n = 0; n < size; n++) tone[n] = chance.noise();
  // Twice round, so that the loop's end meets its start.
  for (let n = 0; n < 2 * size; n++) {
    const at = n % size;
    low += 0.02 * (tone[at] - low);
    if (n >= size) tone[at] = quiet * (0.5 * tone[at] + 4 * low);
  }
  return tone;
}
