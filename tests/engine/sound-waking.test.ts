import { createRoot } from 'solid-js';
import { afterEach, expect, it, vi } from 'vitest';
import { createEngine } from '../../src/sound/engine.ts';

/** Stands for a context that wakes when it is let: closed before, it refuses, as Chromium's does. */
class SlowContext extends EventTarget {
  static readonly opened: SlowContext[] = [];
  state = 'suspended';
  currentTime = 0;
  readonly sampleRate: number;
  private refuse: (error: unknown) => void = () => {};
  constructor({ sampleRate = 48000 } = {}) {
    super();
    this.sampleRate = sampleRate;
    SlowContext.opened.push(this);
  }
  resume() {
    return new Promise<void>((_, reject) => {
      this.refuse = reject;
    });
  }
  async close() {
    this.state = 'closed';
    this.refuse(new DOMException('The context is going away.', 'InvalidStateError'));
  }
}

afterEach(() => vi.unstubAllGlobals());

it('sound that is ended while it wakes up, for a take at another rate, has not failed', async () => {
  vi.stubGlobal('AudioContext', SlowContext);
  await createRoot(async (end) => {
    const engine = createEngine(-18);
    const waking = engine.wake();
    engine.setRate(22050);
    expect(await waking).toBeNull();
    expect(SlowContext.opened[0]?.state).toBe('closed');
    expect(engine.state()).toBe('asleep');
    end();
  });
});
