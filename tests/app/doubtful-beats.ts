import type { Page } from 'playwright-core';

/** Makes two beats of every take doubtful on their way from the worker, since what the ear doubts changes as it learns. */
export function makeDoubtful(page: Page): Promise<unknown> {
  return page.addInitScript(() => {
    const Native = window.Worker;
    window.Worker = class extends Native {
      constructor(address: string | URL, options?: WorkerOptions) {
        super(address, options);
        this.addEventListener('message', ({ data }) =>
          data.result?.beats?.forEach((beat: { confidence: number }, i: number) => {
            beat.confidence = i === 3 || i === 6 ? 0.3 : 0.9;
          }),
        );
      }
    };
  });
}
