import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';

/**
 * Takes down everything that the built page puts out, sample by sample, against its context's own count of
 * frames: a worklet of the test hangs on whatever node is connected to the destination. The page ships
 * nothing for it and knows nothing of it.
 */
const worklet = readFileSync(
  fileURLToPath(new URL('sound-page/recorder.worklet.js', import.meta.url)),
  'utf8',
);

interface Captured {
  readonly rate: () => number;
  /** The context's frame now: that of the block that is made next. */
  readonly frame: () => number;
  readonly newest: () => number;
  readonly heard: (from: number, until: number, channel?: number) => number[];
  /** Keys and pointers that came down, in order. */
  readonly pressed: Pressed[];
}

interface Pressed {
  /** The context's frame at which the event came, and that at which the page was done with it. */
  readonly frame: number;
  done: number;
  readonly burst: number;
  readonly code: string;
}

declare global {
  interface Window {
    captured?: Captured;
  }
}

/** Call it before the page is opened, in a context that passes by the policy (`bypassCSP`): the worklet is a blob. */
export async function capture(page: Page): Promise<void> {
  await page.addInitScript((code) => {
    const blocks = new Map<number, Float32Array[]>();
    let newest = 0;
    let context: AudioContext | undefined;
    const pressed: Pressed[] = [];
    const frame = () => Math.round((context?.currentTime ?? 0) * (context?.sampleRate ?? 0));
    const connect = AudioNode.prototype.connect as (this: AudioNode, ...to: unknown[]) => AudioNode;
    AudioNode.prototype.connect = function (this: AudioNode, ...to: unknown[]) {
      if (to[0] instanceof AudioDestinationNode) {
        const own = this.context as AudioContext;
        context = own;
        const address = URL.createObjectURL(new Blob([code], { type: 'text/javascript' }));
        void own.audioWorklet.addModule(address).then(() => {
          const recorder = new AudioWorkletNode(own, 'recorder', { numberOfOutputs: 0 });
          recorder.port.onmessage = ({ data }) => {
            blocks.set(data.frame, data.channels);
            newest = Math.max(newest, data.frame);
          };
          connect.call(this, recorder);
        });
      }
      return connect.apply(this, to);
    } as typeof AudioNode.prototype.connect;
    // Before the page's own listeners, so that the frame is the one at which the event came.
    for (const kind of ['keydown', 'pointerdown'] as const)
      addEventListener(
        kind,
        (event) => {
          const burst = (context?.baseLatency ?? 0) * (context?.sampleRate ?? 0);
          const code = 'code' in event ? event.code : kind;
          const press = { frame: frame(), done: frame(), burst, code };
          pressed.push(press);
          // A task of its own comes when all listeners have run: how long they take is for the bench to say.
          setTimeout(() => {
            press.done = frame();
          });
        },
        { capture: true },
      );
    window.captured = {
      rate: () => context?.sampleRate ?? 0,
      frame,
      newest: () => newest,
      heard: (from, until, channel = 0) =>
        Array.from({ length: until - from }, (_, i) => {
          const at = from + i;
          return blocks.get(at - (at % 128))?.[channel]?.[at % 128] ?? 0;
        }),
      pressed,
    };
  }, worklet);
}

/** Waits until everything up to a frame was put out, and returns what it was from `from` on. */
export async function heardBetween(page: Page, from: number, until: number): Promise<number[]> {
  await page.waitForFunction((until) => (window.captured?.newest() ?? 0) > until, until);
  return page.evaluate(([from, until]) => window.captured?.heard(from, until) ?? [], [
    from,
    until,
  ] as const);
}

/** The presses noted since the last call. */
export const pressesSince = (page: Page) =>
  page.evaluate(async () => {
    // Timers run in order: those of the presses before have run then.
    await new Promise((done) => setTimeout(done));
    return window.captured?.pressed.splice(0) ?? [];
  });
