import { fileURLToPath } from 'node:url';
import { build } from 'vite';
import type { Audio } from '../../../shared/take/audio.ts';
import type { TimeMap } from '../../../shared/time/time-map.ts';
import { warp } from '../../../shared/warp/warp.ts';
import { openBrowser } from '../../app/browser.ts';

/** Rounds that count, after two for warmth. */
const rounds = 9;

/**
 * Seconds of processor that a warp takes in Chromium and in Node, sorted; round by round in turns, so that
 * a busy machine strikes both alike. In Chromium it is the main thread's time, as its own metrics have it.
 */
export async function besideChromium(
  source: Audio,
  map: TimeMap,
  length: number,
): Promise<{ chromium: number[]; node: number[] }> {
  const entry = fileURLToPath(new URL('chromium-side.ts', import.meta.url));
  const built = await build({
    configFile: false,
    logLevel: 'silent',
    build: { write: false, lib: { entry, formats: ['es'], fileName: 'side' } },
  });
  const [result] = Array.isArray(built) ? built : [built];
  if (!('output' in result)) throw new Error('Nothing was built for Chromium.');
  const browser = await openBrowser();
  try {
    const page = await browser.newPage();
    await page.addScriptTag({ content: result.output[0].code, type: 'module' });
    const channels = source.channels.map((c) =>
      Buffer.from(c.buffer, c.byteOffset, c.byteLength).toString('base64'),
    );
    await page.evaluate((parts) => window.setTake(parts), channels);
    const session = await page.context().newCDPSession(page);
    await session.send('Performance.enable', { timeDomain: 'threadTicks' });
    const threadTime = async (): Promise<number> => {
      const { metrics } = await session.send('Performance.getMetrics');
      const found = metrics.find(({ name }) => name === 'ThreadTime');
      if (!found) throw new Error('Chromium tells no thread time.');
      return found.value;
    };
    const chromium: number[] = [];
    const node: number[] = [];
    for (let i = -2; i < rounds; i++) {
      const began = await threadTime();
      await page.evaluate(([by, samples]) => window.warpTake(by, samples), [map, length] as const);
      const taken = (await threadTime()) - began;
      const before = process.cpuUsage();
      warp([source], map, length);
      const { user, system } = process.cpuUsage(before);
      if (i < 0) continue;
      chromium.push(taken);
      node.push((user + system) / 1e6);
    }
    return { chromium: chromium.sort((a, b) => a - b), node: node.sort((a, b) => a - b) };
  } finally {
    await browser.close();
  }
}
