import type { Progress } from '../math/progress.ts';
import type { Samples } from '../math/units.ts';
import { type Audio, lengthOf } from '../take/audio.ts';
import { type TimeMap, unmapTime } from '../time/time-map.ts';
import { readerOfSum } from './bands/reader.ts';
import { Workspace } from './bands/workspace.ts';
import type { Moment } from './plan/plan.ts';
import { WarpStream } from './warp-stream.ts';

/**
 * Plays `inputs` along a time map: output moment `u` (seconds) is source moment `unmapTime(map, u)`.
 * Around attacks the samples are the recording's own, moved; the time is made up in between.
 *
 * All inputs are parts of one performance (a mix's stems): they share one set of decisions, made on
 * their sum, so the outputs add up to the warp of the sum, and channels keep their phase relations.
 * Where every slope of the map is 1 the output is the input bit for bit, moved by whole samples.
 *
 * @param inputs of one sample rate (8 to 192 kHz) and one length, of 1 to 8 channels each: in the sum a
 *   mono one counts on all channels of the widest, any other on its first ones
 * @param length of the result, exact
 * @param progress share of the work done; throws through to cancel
 * @param workspace what an earlier warp left, for many short ones in a row
 * @throws InputError where inputs differ in rate or length
 */
export function warp(
  inputs: readonly Audio[],
  map: TimeMap,
  length: Samples,
  progress?: Progress,
  workspace?: Workspace,
): Audio[] {
  return warpMoments(inputs, map, length, 'set off', progress, workspace);
}

/** As `warp`; `moment` says what of an attack the map moves. */
export function warpMoments(
  inputs: readonly Audio[],
  map: TimeMap,
  length: Samples,
  moment: Moment,
  progress?: Progress,
  workspace?: Workspace,
): Audio[] {
  const outputs = inputs.map(({ sampleRate, channels }) => ({
    sampleRate,
    channels: channels.map(() =>
      workspace ? workspace.floats(length).subarray(0, length) : new Float32Array(length),
    ),
  }));
  let done = 0;
  for (const block of warpBlocks(inputs, map, length, moment, progress, workspace)) {
    block.forEach((audio, i) => {
      audio.channels.forEach((channel, c) => {
        outputs[i].channels[c].set(channel, done);
      });
    });
    done += lengthOf(block[0]);
  }
  return outputs;
}

/** Samples that `warpBlocks` yields at a time. */
const atOnce = 1 << 14;

/**
 * As `warpMoments`, a stretch at a time: one after the other they are what that returns. The arrays of a
 * stretch are used again for the next one. Besides inputs and plan a second or two is in memory.
 */
export function* warpBlocks(
  inputs: readonly Audio[],
  map: TimeMap,
  length: Samples,
  moment: Moment = 'set off',
  progress?: Progress,
  workspace = new Workspace(),
): Generator<Audio[]> {
  if (inputs.length === 0) return;
  const sum = readerOfSum(inputs);
  const { sampleRate } = sum;
  const stream = isShift(map)
    ? shifted(inputs, Math.round(unmapTime(map, 0) * sampleRate))
    : sum.length === 0 || sum.channels === 0
      ? undefined
      : new WarpStream(
          inputs,
          { map, length, moment },
          (share, doing) => progress?.(deciding * share, doing),
          workspace,
        );
  const whole = inputs.map((input) =>
    input.channels.map(() => workspace.floats(Math.min(atOnce, length)).fill(0)),
  );
  try {
    for (let done = 0; done < length; ) {
      const count = Math.min(atOnce, length - done);
      const block = whole.map((channels) => channels.map((channel) => channel.subarray(0, count)));
      stream?.read(block);
      done += count;
      yield block.map((channels) => ({ sampleRate, channels }));
      progress?.(deciding + (1 - deciding) * (done / length), 'warping');
    }
  } finally {
    stream?.close();
    workspace.leave(...whole.flat());
  }
}

/** Share of the work that is deciding. */
const deciding = 0.25;

/** The inputs moved by whole samples. */
function shifted(inputs: readonly Audio[], offset: Samples): Pick<WarpStream, 'read' | 'close'> {
  let from = offset;
  return {
    read: (to) => {
      to.forEach((channels, i) => {
        channels.forEach((channel, c) => {
          copyShifted(inputs[i].channels[c], channel, from);
        });
      });
      from += to[0]?.[0]?.length ?? 0;
    },
    close: () => {},
  };
}

/** Whether the map only moves: every slope is 1 to within a thousandth of a sample over the take. */
function isShift(map: TimeMap): boolean {
  const first = map.anchors[0];
  return map.anchors.every((a) => Math.abs(a.to - a.from - (first.to - first.from)) < 1e-9);
}

function copyShifted(from: Float32Array, to: Float32Array, offset: Samples): void {
  to.fill(0);
  const start = Math.max(0, -offset);
  const end = Math.min(to.length, from.length - offset);
  if (end > start) to.set(from.subarray(start + offset, end + offset), start);
}
