import type { Page } from 'playwright-core';

declare global {
  interface Window {
    /** Keeps back the next answer to each of these jobs, as if its worker were still at it. */
    holdAnswer: (...jobs: string[]) => void;
    /** Whether a held answer has come; it is lost when its worker is ended. */
    answerCame: (job: string) => boolean;
    letAnswer: (job: string) => void;
  }
}

/** Lets a test keep back what the page's workers answer, to be called before the page is opened. */
export function holdAnswers(page: Page): Promise<unknown> {
  return page.addInitScript(() => {
    const wanted = new Set<string>();
    const held = new Map<string, () => void>();
    const Native = window.Worker;
    window.Worker = class extends Native {
      private readonly orders = new Map<number, string>();
      private ended = false;
      constructor(address: string | URL, options?: WorkerOptions) {
        super(address, options);
        this.addEventListener('message', (event) => {
          const job = this.orders.get(event.data.id) ?? '';
          if (event.data.kind === 'progress' || !wanted.has(job)) return;
          wanted.delete(job);
          event.stopImmediatePropagation();
          held.set(job, () => !this.ended && this.onmessage?.(event));
        });
      }
      override postMessage(message: { id: number; job: string }) {
        this.orders.set(message.id, message.job);
        super.postMessage(message);
      }
      override terminate() {
        this.ended = true;
        super.terminate();
      }
    };
    window.holdAnswer = (...jobs) => {
      for (const job of jobs) wanted.add(job);
    };
    window.answerCame = (job) => held.has(job);
    window.letAnswer = (job) => {
      held.get(job)?.();
      held.delete(job);
    };
  });
}
