import type { Page } from 'playwright-core';

/** What a page puts out, for tests that have no other ears. */
interface Ears {
  /** Highest sample and root mean square of the last third of a second. */
  hear: () => { peak: number; level: number };
}

declare global {
  interface Window {
    ears?: Ears;
  }
}

/** Puts an analyser beside the way out of every audio context of the page; call it before the page is opened. */
export async function listen(page: Page): Promise<void> {
  await page.addInitScript(() => {
    const connect = AudioNode.prototype.connect as (this: AudioNode, ...to: unknown[]) => AudioNode;
    AudioNode.prototype.connect = function (this: AudioNode, ...to: unknown[]) {
      if (to[0] instanceof AudioDestinationNode) {
        const analyser = new AnalyserNode(this.context, { fftSize: 16384 });
        connect.call(this, analyser);
        const samples = new Float32Array(analyser.fftSize);
        window.ears = {
          hear: () => {
            analyser.getFloatTimeDomainData(samples);
            let peak = 0;
            let power = 0;
            for (const x of samples) {
              peak = Math.max(peak, Math.abs(x));
              power += x * x;
            }
            return { peak, level: Math.sqrt(power / samples.length) };
          },
        };
      }
      return connect.apply(this, to);
    } as typeof AudioNode.prototype.connect;
  });
}

/** Waits until the page is heard, or until it is silent. */
export async function untilHeard(page: Page, heard = true): Promise<void> {
  await page.waitForFunction((heard) => {
    const peak = window.ears?.hear().peak ?? 0;
    return heard ? peak > 1e-3 : peak < 1e-4;
  }, heard);
}
