import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Samples } from '../../../shared/math/units.ts';
import { type Audio, lengthOf } from '../../../shared/take/audio.ts';
import { readWav } from '../../../shared/take/wav-read.ts';
import { writeWav } from '../../../shared/take/wav-write.ts';
import { mapTime, type TimeMap, unmapTime } from '../../../shared/time/time-map.ts';

/** A general stretcher to stand beside: what it makes of a map, and the CPU seconds that took. */
export type Rival = (
  source: Audio,
  map: TimeMap,
  length: Samples,
) => Promise<{ audio: Audio; cpu: number }>;

/** Knots of the map in samples, from the start of the result to its end. */
function keyFrames(
  map: TimeMap,
  length: Samples,
  source: Samples,
  rate: number,
): [number, number][] {
  const inner = map.anchors.map((a): [number, number] => [
    Math.round(a.from * rate),
    Math.round(a.to * rate),
  ]);
  return inner.filter(([from, to]) => from > 0 && to > 0 && from < source && to < length);
}

/** Whether Rubber Band's command (GPL: outside reference only) is installed. */
export function hasRubberBand(): boolean {
  return spawnSync('rubberband', ['--version']).error === undefined;
}

/** Rubber Band's finer engine with one key-frame map. */
export const rubberBand: Rival = async (source, map, length) => {
  const folder = mkdtempSync(join(tmpdir(), 'warp-bench-'));
  try {
    const rate = source.sampleRate;
    const wav = join(folder, 'in.wav');
    const out = join(folder, 'out.wav');
    const frames = join(folder, 'map.txt');
    writeFileSync(wav, writeWav(source, { bits: '32f' }));
    const keys = keyFrames(map, length, lengthOf(source), rate);
    writeFileSync(frames, `${keys.map((k) => k.join(' ')).join('\n')}\n`);
    // The total follows from the map itself, so that the last stretch keeps slope 1.
    const total = mapTime(map, lengthOf(source) / rate);
    const started = childCpu();
    const args = ['-q', '-3', '-D', String(total), '--timemap', frames, wav, out];
    const done = spawnSync('rubberband', args);
    if (done.status !== 0) throw new Error(`rubberband ended with ${done.status}: ${done.stderr}`);
    const cpu = childCpu() - started;
    const { audio } = readWav(readFileSync(out), 'out.wav');
    return { audio: cutTo(audio, length), cpu };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

/** CPU seconds of finished child processes, from /proc (Linux); 0 elsewhere. */
function childCpu(): number {
  try {
    const fields = readFileSync('/proc/self/stat', 'utf8').split(') ')[1].split(' ');
    return (Number(fields[13]) + Number(fields[14])) / 100;
  } catch {
    return 0;
  }
}

function cutTo(audio: Audio, length: Samples): Audio {
  return {
    sampleRate: audio.sampleRate,
    channels: audio.channels.map((channel) => {
      const out = new Float32Array(length);
      out.set(channel.subarray(0, length));
      return out;
    }),
  };
}

interface Processor {
  port: { onmessage: (event: { data: unknown[] }) => void; postMessage: (data: unknown[]) => void };
  readonly outputLatencySeconds: number;
  process(inputs: unknown[], outputs: Float32Array[][]): boolean;
}
type ProcessorClass = new (options: unknown) => Processor;

let stretcher: ProcessorClass | undefined;

/** signalsmith-stretch (npm, MIT), its worklet driven block by block outside a browser. */
export const signalsmith: Rival = async (source, map, length) => {
  const rate = source.sampleRate;
  const scope = globalThis as unknown as Record<string, unknown>;
  scope.sampleRate = rate;
  scope.currentTime = 0;
  if (!stretcher) {
    scope.AudioWorkletProcessor = class {
      port = { onmessage: null, postMessage: () => undefined };
    };
    scope.registerProcessor = (_: string, processor: ProcessorClass) => {
      stretcher = processor;
    };
    // @ts-expect-error the package has no types
    await import('signalsmith-stretch');
  }
  if (!stretcher) throw new Error('signalsmith-stretch did not register its processor.');
  const node = new stretcher({ numberOfOutputs: 1, outputChannelCount: [2] });
  await new Promise<void>((resolve) => {
    node.port.postMessage = (data) => {
      if (data[0] === 'ready') resolve();
    };
  });
  node.port.onmessage({ data: [1, 'addBuffers', source.channels.map((c) => c.slice())] });
  const end = length / rate;
  const knots = [0, ...map.anchors.map((a) => a.to).filter((t) => t > 0 && t < end), end];
  let next = 0;
  // A change drops all before it, so each is made just when its moment enters the stretch.
  const advance = (time: number): void => {
    while (next + 1 < knots.length && knots[next] <= time + node.outputLatencySeconds) {
      const output = knots[next];
      const input = unmapTime(map, output);
      const slope = (unmapTime(map, knots[next + 1]) - input) / (knots[next + 1] - output);
      const change = { outputTime: output, output, active: true, input, rate: slope };
      node.port.onmessage({ data: [2 + next++, 'schedule', change] });
    }
  };
  const channels = [new Float32Array(length), new Float32Array(length)];
  const block = 128;
  const before = process.cpuUsage();
  for (let at = 0; at < length; at += block) {
    scope.currentTime = at / rate;
    advance(at / rate);
    const out = [new Float32Array(block), new Float32Array(block)];
    node.process([[]], [out]);
    for (let c = 0; c < 2; c++) channels[c].set(out[c].subarray(0, length - at), at);
  }
  const { user, system } = process.cpuUsage(before);
  return { audio: { sampleRate: rate, channels }, cpu: (user + system) / 1e6 };
};
