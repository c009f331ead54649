import type { CDPSession, Locator, Page } from 'playwright-core';

export interface Point {
  readonly x: number;
  readonly y: number;
}

/** A hand on the page, with a mouse or with a finger: the same deeds for both. */
export interface Hand {
  readonly press: (at: Point) => Promise<void>;
  readonly twice: (at: Point) => Promise<void>;
  readonly drag: (from: Point, to: Point) => Promise<void>;
  /** Takes something along from one place to another; a finger has to rest on it first. */
  readonly carry: (from: Point, to: Point) => Promise<void>;
  /** Sets the lines under it closer or wider: by the wheel with Ctrl, or by two fingers. */
  readonly zoom: (at: Point, way: 'closer' | 'wider') => Promise<void>;
}

export async function boxOf(locator: Locator) {
  const box = await locator.boundingBox();
  if (!box) throw new Error(`${locator} is not on the page.`);
  return box;
}

export function mouseHand({ mouse, keyboard }: Page): Hand {
  const drag = async (from: Point, to: Point) => {
    await mouse.move(from.x, from.y);
    await mouse.down();
    await mouse.move((from.x + to.x) / 2, (from.y + to.y) / 2, { steps: 3 });
    await mouse.move(to.x, to.y, { steps: 3 });
    await mouse.up();
  };
  return {
    press: ({ x, y }) => mouse.click(x, y),
    twice: ({ x, y }) => mouse.dblclick(x, y),
    drag,
    carry: drag,
    zoom: async ({ x, y }, way) => {
      await mouse.move(x, y);
      await keyboard.down('Control');
      for (let i = 0; i < 4; i++) await mouse.wheel(0, way === 'closer' ? -60 : 60);
      await keyboard.up('Control');
    },
  };
}

export async function finger(page: Page): Promise<Hand> {
  const session: CDPSession = await page.context().newCDPSession(page);
  const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', at?: Point, when?: Date) =>
    session.send('Input.dispatchTouchEvent', {
      type,
      touchPoints: at ? [{ ...at, id: 0 }] : [],
      timestamp: when && when.getTime() / 1000,
    });
  const move = async (from: Point, to: Point) => {
    for (let i = 1; i <= 6; i++)
      await touch('touchMove', {
        x: from.x + ((to.x - from.x) * i) / 6,
        y: from.y + ((to.y - from.y) * i) / 6,
      });
    // It comes to rest before it leaves: a press that follows a fling would only stop it.
    for (let i = 0; i < 12; i++) {
      await page.evaluate(() => new Promise(requestAnimationFrame));
      await touch('touchMove', to);
    }
    await touch('touchEnd');
  };
  return {
    press: ({ x, y }) => page.touchscreen.tap(x, y),
    // A tenth of a second apart by the events' clock, however busy the machine is.
    twice: async (at) => {
      const first = Date.now();
      for (const after of [0, 100]) {
        await touch('touchStart', at, new Date(first + after));
        await touch('touchEnd', undefined, new Date(first + after + 30));
      }
    },
    drag: async (from, to) => {
      await touch('touchStart', from);
      await move(from, to);
    },
    carry: async (from, to) => {
      await touch('touchStart', from);
      // It is lifted by itself where it lies on the sheet; a pad wants half a second of rest by the event's clock.
      const start = await page.evaluate(() => performance.now());
      await page.waitForFunction((start) => performance.now() > start + 500, start);
      await move(from, to);
    },
    zoom: async ({ x, y }, way) => {
      const two = (type: 'touchStart' | 'touchMove', apart: number) =>
        session.send('Input.dispatchTouchEvent', {
          type,
          touchPoints: [-1, 1].map((side, id) => ({ x: x + 60 + side * apart, y, id })),
        });
      const [from, to] = way === 'closer' ? [30, 60] : [60, 30];
      await two('touchStart', from);
      for (let i = 1; i <= 3; i++) await two('touchMove', from + ((to - from) * i) / 3);
      await touch('touchEnd');
    },
  };
}
