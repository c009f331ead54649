/**
 * Draws the worst places of the warp's check set: `npx tsx tests/bench/warp/worst.ts`. For each of five
 * performances the 0.2 s whose magnitudes lie farthest from the ideal, with a second around them: the ideal
 * above, the warp below, 0 to 6 kHz, 70 dB from white to black. Writes tests/bench/warp/worst-N.png and
 * prints what is known of each place.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { deflateSync } from 'node:zlib';
import { RealFft } from '../../../shared/math/fft.ts';
import { hann } from '../../../shared/math/window.ts';
import { unmapTime } from '../../../shared/time/time-map.ts';
import { warp } from '../../../shared/warp/warp.ts';
import { material } from './material.ts';
import { mono } from './measures.ts';

const size = 2048;
const hop = 256;
const rate = 44100;
const fft = new RealFft(size);
const window = hann(size);

function levels(signal: Float64Array): Float64Array[] {
  const frame = new Float64Array(size);
  const re = new Float64Array(fft.bins);
  const im = new Float64Array(fft.bins);
  const out: Float64Array[] = [];
  for (let first = -size / 2; first + size / 2 < signal.length; first += hop) {
    for (let i = 0; i < size; i++) frame[i] = (signal[first + i] ?? 0) * window[i];
    fft.forward(frame, re, im);
    out.push(re.map((r, k) => 10 * Math.log10(r * r + im[k] * im[k] + 1e-12)));
  }
  return out;
}

/** An 8-bit grey PNG (ISO/IEC 15948). */
function png(width: number, height: number, grey: Uint8Array): Buffer {
  const crcTable = Uint32Array.from({ length: 256 }, (_, n) => {
    let c = n;
    for (let k = 0; k < 8; k++) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    return c;
  });
  const chunk = (name: string, data: Buffer): Buffer => {
    const body = Buffer.concat([Buffer.from(name, 'latin1'), data]);
    let crc = 0xffffffff;
    for (const byte of body) crc = crcTable[(crc ^ byte) & 255] ^ (crc >>> 8);
    const ends = Buffer.alloc(8);
    ends.writeUInt32BE(data.length, 0);
    ends.writeUInt32BE((crc ^ 0xffffffff) >>> 0, 4);
    return Buffer.concat([ends.subarray(0, 4), body, ends.subarray(4)]);
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head[8] = 8;
  const rows = Buffer.alloc(height * (width + 1));
  for (let y = 0; y < height; y++)
    Buffer.from(grey.subarray(y * width, (y + 1) * width)).copy(rows, y * (width + 1) + 1);
  return Buffer.concat([
    Buffer.from([137, 80, 78, 71, 13, 10, 26, 10]),
    chunk('IHDR', head),
    chunk('IDAT', deflateSync(rows, { level: 9 })),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

const places = material(10).map((piece) => {
  const [out] = warp([piece.source], piece.map, piece.length);
  const result = levels(mono(out));
  const ideal = levels(mono(piece.ideal));
  let top = -200;
  for (const frame of ideal) for (const l of frame) if (l > top) top = l;
  const floor = top - 60;
  const distance = ideal.map((frame, f) => {
    let sum = 0;
    let n = 0;
    for (let k = 0; k < frame.length; k++) {
      const x = Math.max(floor, result[f][k]);
      const y = Math.max(floor, frame[k]);
      if (x === floor && y === floor) continue;
      sum += Math.abs(x - y);
      n++;
    }
    // Places with hardly any sound say nothing.
    return n > 40 ? sum / n : 0;
  });
  const span = Math.round((0.2 * rate) / hop);
  let worst = 0;
  let at = 0;
  for (let f = 0; f + span < distance.length; f++) {
    const mean = distance.slice(f, f + span).reduce((s, d) => s + d, 0) / span;
    if (mean > worst) {
      worst = mean;
      at = f + span / 2;
    }
  }
  return { piece, result, ideal, top, worst, at };
});
places.sort((a, b) => b.worst - a.worst);
places.slice(0, 5).forEach(({ piece, result, ideal, top, worst, at }, i) => {
  const width = Math.round((1.2 * rate) / hop);
  const height = Math.round((6000 * size) / rate);
  const grey = new Uint8Array(width * (2 * height + 4));
  for (const [panel, frames] of [ideal, result].entries())
    for (let x = 0; x < width; x++) {
      const frame = frames[Math.round(at - width / 2) + x];
      for (let y = 0; y < height; y++) {
        const level = frame ? (frame[height - 1 - y] - top + 70) / 70 : 0;
        grey[(panel * (height + 4) + y) * width + x] = 255 - 255 * Math.max(0, Math.min(1, level));
      }
    }
  for (let x = 0; x < 4 * width; x++) grey[height * width + x] = 128;
  writeFileSync(
    fileURLToPath(new URL(`worst-${i + 1}.png`, import.meta.url)),
    png(width, 2 * height + 4, grey),
  );
  const time = (at * hop) / rate;
  const d = 0.01;
  const slope = (unmapTime(piece.map, time + d) - unmapTime(piece.map, time - d)) / (2 * d);
  const near = piece.attacks
    .map((a) => a.at / rate - time)
    .filter((t) => Math.abs(t) < 0.7)
    .map((t) => (t * 1000).toFixed(0));
  const anchors = piece.map.anchors
    .map((a) => a.to - time)
    .filter((t) => Math.abs(t) < 0.7)
    .map((t) => (t * 1000).toFixed(0));
  let bias = 0;
  let n = 0;
  for (let f = Math.round(at - 17); f < at + 17; f++)
    for (let k = 0; k < ideal[f].length; k++)
      if (ideal[f][k] > top - 60) {
        bias += result[f][k] - ideal[f][k];
        n++;
      }
  console.log(
    `${i + 1}: ${piece.name} at ${time.toFixed(2)} s: ${worst.toFixed(1)} dB (bias ${(bias / n).toFixed(1)}), time runs at ${slope.toFixed(2)}; attacks ${near.join(' ')} ms, anchors ${anchors.join(' ')} ms`,
  );
});
