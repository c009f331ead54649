import { spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { freeTimes, plucks } from './plucks.ts';
import { buildCommand, type Command, saveWav } from './run-command.ts';

/** The compiled code that the build keeps for fast starts (src/cli/start.cjs): it may be missing or unfit. */

let command: Command;
let kept: string;
let whole: Buffer;
let heard: string;

beforeAll(async () => {
  command = await buildCommand();
  saveWav(command.at('take.wav'), plucks(freeTimes(8), 5, 0.3), '16');
  const parts = join(command.outDir, 'cli');
  kept = join(parts, readdirSync(parts).find((name) => /^hearing-.*[.]code$/.test(name)) ?? '');
  whole = readFileSync(kept);
  heard = command.run('hear', 'take.wav').out;
});
afterAll(() => command.clean());

function hearAgain(...flags: string[]) {
  const start = join(command.outDir, 'cli.js');
  const ran = spawnSync(process.execPath, [...flags, start, 'hear', 'take.wav'], {
    cwd: command.folder,
    encoding: 'utf8',
  });
  return { status: ran.status, err: ran.stderr, same: ran.stdout === heard };
}

const md5 = (bytes: Uint8Array): string => createHash('md5').update(bytes).digest('hex');

describe('the command warps the same', () => {
  const warpAgain = (...flags: string[]) => {
    const start = join(command.outDir, 'cli.js');
    const call = ['warp', 'take.wav', '--map', 'map.json', '--to', 'warped.wav', '--force'];
    const { status, stderr } = spawnSync(process.execPath, [...flags, start, ...call], {
      cwd: command.folder,
      encoding: 'utf8',
    });
    return { status, stderr, samples: md5(readFileSync(command.at('warped.wav'))) };
  };

  test('with the code that was kept, under flags for which it was not, and where it is cut off', () => {
    const anchors = [0, 1, 2, 3, 4].map((from) => ({ from, to: from + 0.2 * (from % 3) }));
    writeFileSync(command.at('map.json'), JSON.stringify({ anchors, seconds: 5 }));
    const parts = join(command.outDir, 'cli');
    const code = join(
      parts,
      readdirSync(parts).find((name) => /^warp-.*[.]code$/.test(name)) ?? '',
    );
    const whole = readFileSync(code);
    expect(whole.length).toBeGreaterThan(50_000);
    const warped = warpAgain();
    expect(warped).toMatchObject({ status: 0, stderr: '' });
    expect(warpAgain('--max-lazy')).toEqual(warped);
    expect(warpAgain('--no-opt')).toEqual(warped);
    writeFileSync(code, whole.subarray(0, whole.length >> 1));
    expect(warpAgain()).toEqual(warped);
  });
});

describe('the command hears the same', () => {
  const fine = { status: 0, err: '', same: true };

  test('with the code that was kept, of which there is much', () => {
    expect(whole.length).toBeGreaterThan(100_000);
    expect(JSON.parse(heard).onsets.length).toBeGreaterThan(5);
    expect(hearAgain()).toEqual(fine);
  });

  test('under flags for which it was not kept', () => {
    expect(hearAgain('--max-lazy')).toEqual(fine);
    expect(hearAgain('--no-opt')).toEqual(fine);
  });

  test.each([
    ['cut off', () => whole.subarray(0, whole.length >> 1)],
    ['empty', () => new Uint8Array(0)],
    ['of another V8', () => Buffer.concat([Buffer.alloc(8, 7), whole.subarray(8)])],
    [
      'of another text',
      () => Buffer.concat([whole.subarray(0, 8), Buffer.alloc(4, 7), whole.subarray(12)]),
    ],
  ])('where it is %s', (_, bytes) => {
    writeFileSync(kept, bytes());
    expect(hearAgain()).toEqual(fine);
  });

  test('where there is none', () => {
    rmSync(kept);
    expect(hearAgain()).toEqual(fine);
  });
});
