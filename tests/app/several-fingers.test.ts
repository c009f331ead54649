import { expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { boxOf } from './page-hands.ts';
import { wideWords } from './states.ts';

/** Several fingers at once on an upright tablet, and a finger that swipes and carries. */
const built = useBuiltPage();

it('takes two quick presses for two, wherever they fall', async () => {
  const { page: tablet, errors } = await built.open({
    viewport: { width: 820, height: 1180 },
    hasTouch: true,
  });
  // Chromium zooms by no double tap on such a page, WebKit does (Pointer Events, W3C, touch-action: manipulation leaves it out).
  expect(await tablet.evaluate(() => getComputedStyle(document.documentElement).touchAction)).toBe(
    'manipulation',
  );
  expect(errors).toEqual([]);
  await tablet.context().close();
});

it('plays a chord under several fingers, is pinched, swiped, and carries a word', async () => {
  const { page: tablet, errors } = await built.open({
    viewport: { width: 820, height: 1180 },
    hasTouch: true,
  });
  tablet.setDefaultTimeout(100_000);
  const session = await tablet.context().newCDPSession(tablet);
  await tablet.getByRole('button', { name: 'try the demo take' }).click();
  await tablet.locator('.sheet-words .slice').first().waitFor();
  const full = tablet.locator('.pad:not(.none)');
  const boxes = await full.evaluateAll((all) =>
    all.map((one) => one.getBoundingClientRect().toJSON()),
  );
  for (const box of boxes) {
    expect(box.width).toBeGreaterThanOrEqual(44);
    expect(box.height).toBeGreaterThanOrEqual(44);
  }
  // The first touch lets sound begin.
  const touch = (
    points: { x: number; y: number; id?: number }[],
    type: 'touchStart' | 'touchMove' | 'touchEnd',
  ) => session.send('Input.dispatchTouchEvent', { type, touchPoints: points });
  const points = boxes.slice(0, 3).map((box, id) => ({ x: box.x + 20, y: box.y + 30, id }));
  await touch(points.slice(0, 1), 'touchStart');
  await touch([], 'touchEnd');
  await tablet.waitForFunction(() => document.querySelectorAll('.pad.sounds').length > 0);
  await tablet.evaluate(() => {
    Object.assign(window, { most: 0 });
    new MutationObserver(() => {
      const seen = window as unknown as { most: number };
      seen.most = Math.max(seen.most, document.querySelectorAll('.pad.sounds').length);
    }).observe(document.body, { subtree: true, attributes: true });
  });
  await touch(points, 'touchStart');
  await tablet.waitForFunction(() => (window as unknown as { most: number }).most >= 3);
  await touch([], 'touchEnd');

  // Two fingers set the lines closer; a swipe reads on; a finger that rests takes a word along.
  const [at = 0] = await wideWords(tablet);
  const third = tablet.locator('.sheet-words .slice').nth(at);
  const wide = (await boxOf(third)).width;
  const two = (apart: number) => [
    { x: 400 - apart, y: 200, id: 0 },
    { x: 400 + apart, y: 200, id: 1 },
  ];
  await touch(two(40), 'touchStart');
  await touch(two(60), 'touchMove');
  await touch(two(80), 'touchMove');
  await touch([], 'touchEnd');
  expect((await boxOf(third)).width).toBeGreaterThan(wide * 1.5);

  await touch([{ x: 300, y: 330, id: 0 }], 'touchStart');
  for (let i = 1; i <= 10; i++) await touch([{ x: 300, y: 330 - 15 * i, id: 0 }], 'touchMove');
  await touch([], 'touchEnd');
  await tablet.waitForFunction(
    () => (document.querySelector('.sheet-scroll')?.scrollTop ?? 0) > 50,
  );

  // A swipe glides on after the finger has left: wait until three frames show the same place.
  await tablet.evaluate(
    () =>
      new Promise<void>((resolve) => {
        const sheet = document.querySelector('.sheet-scroll');
        let still = 0;
        let last = -1;
        const look = () => {
          const now = sheet?.scrollTop ?? 0;
          still = now === last ? still + 1 : 0;
          last = now;
          if (still >= 3) resolve();
          else requestAnimationFrame(look);
        };
        look();
      }),
  );
  const taken = await tablet.locator('.sheet-words .slice').evaluateAll((all) => {
    const one = all.find((word) => word.clientWidth > 60 && word.getBoundingClientRect().y > 150);
    const box = one?.getBoundingClientRect();
    return { x: box?.x ?? 0, y: box?.y ?? 0, label: one?.getAttribute('aria-label') ?? '' };
  });
  const pad = tablet.locator('[data-pad="1 2"]');
  const onto = await boxOf(pad);
  const start = { x: taken.x + 30, y: taken.y + 30 };
  tablet.setDefaultTimeout(15_000);
  await touch([{ ...start, id: 0 }], 'touchStart');
  await tablet.waitForFunction(() => document.querySelector('.carried') !== null);
  await touch([{ x: onto.x + 20, y: onto.y + 20, id: 0 }], 'touchMove');
  await touch([], 'touchEnd');
  await tablet.waitForFunction(() => document.querySelector('.carried') === null);
  const name = taken.label.split(', ').slice(0, 2).join(', ').toLowerCase();
  expect(await pad.getAttribute('aria-label')).toContain(name);

  expect(errors).toEqual([]);
});
