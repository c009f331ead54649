import { hearTake } from '../../shared/cut/hear-take.ts';
import type { Audio } from '../../shared/take/audio.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { makeTimeMap } from '../../shared/time/time-map.ts';
import { warp } from '../../shared/warp/warp.ts';
import { readAnyRecording } from './decoders.ts';
import { heardJson, writeJson } from './heard-json.ts';

const sampleRate = 44100;

/** Two phrases of plucked notes in free time, the second like the first and higher, with a breath between. */
function plucks(): Audio {
  const left = new Float32Array(16 * sampleRate);
  const right = new Float32Array(left.length);
  let at = 0.3;
  for (let n = 0; n < 44; n++) {
    const pitch = 50 + (n < 22 ? 0 : 2) + [0, 7, 12, 16, 9, 4, 11][(n % 22) % 7];
    const step = (2 * Math.PI * 440 * 2 ** ((pitch - 69) / 12)) / sampleRate;
    const from = Math.round(at * sampleRate);
    for (let i = 0; i < 0.6 * sampleRate && from + i < left.length; i++) {
      const loud = (n % 3 === 0 ? 0.3 : 0.12) * Math.exp((-6 * i) / sampleRate);
      const value = loud * (Math.sin(step * i) + 0.5 * Math.sin(2 * step * i));
      left[from + i] += value;
      right[from + i] += 0.7 * value;
    }
    at += (n === 21 ? 1.6 : 0.28 + 0.04 * Math.sin(n)) + (n % 5 === 4 ? 0.1 : 0);
  }
  return { sampleRate, channels: [left, right] };
}

/** Does what `hear` and `warp` do with a take of its own, so that all of it has been compiled once. */
export async function rehearse(): Promise<void> {
  const bytes = writeWav(plucks(), { bits: '16' });
  const { audio } = await readAnyRecording(sourceOf(bytes), 'rehearsal');
  const { beats } = hearTake(audio);
  const second = beats[1]?.time ?? 1;
  const fixes = [{ beat: second + 0.05 }, { notBeat: second }, { one: second }];
  writeJson(heardJson(audio, hearTake(audio, { fixes }), 50));
  // By turns late and early: time is drawn out and cut.
  const anchors = Array.from({ length: 30 }, (_, n) => ({
    from: n / 2,
    to: n / 2 + 0.1 * (n % 3),
  }));
  const [warped] = warp([audio], makeTimeMap(anchors), audio.channels[0].length);
  writeWav(warped, { bits: '16' });
}
