import type { CDPSession, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { boxOf } from './page-hands.ts';
import { shortTake } from './short-take.ts';
import { wideWords } from './states.ts';

/** What hands hold: several at once, a finger that reads on, and a button that goes up where the page is not told of it. */
const built = useBuiltPage();
let page: Page;
let errors: string[];
let session: CDPSession;

const words = () => page.locator('.sheet-words .slice');
const placed = () => page.locator('.lane-word');
const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const nothingToUndo = () => button('Undo: nothing').count();
/** At the end those that are named go up; all, where none is. */
type Finger = { readonly id: number; readonly x: number; readonly y: number };
const touch = (type: 'touchStart' | 'touchMove' | 'touchEnd', ...fingers: Finger[]) =>
  session.send('Input.dispatchTouchEvent', { type, touchPoints: fingers });
/** Moves of fingers are told once a frame. */
const frame = () => page.evaluate(() => new Promise(requestAnimationFrame));
/** The mouse moves with no button down, as after one that went up elsewhere. */
const moveFree = (x: number, y: number) =>
  session.send('Input.dispatchMouseEvent', { type: 'mouseMoved', x, y, buttons: 0 });

beforeAll(async () => {
  const viewport = { width: 1180, height: 820 };
  ({ page, errors } = await built.open({ viewport, hasTouch: true, files: shortTake() }));
  page.setDefaultTimeout(20_000);
  session = await page.context().newCDPSession(page);
  await words().first().waitFor();
});
beforeEach(async () => {
  await page.keyboard.press('Escape');
  while ((await nothingToUndo()) === 0) await page.keyboard.press('Control+z');
});
afterEach(() => expect(errors).toEqual([]));
afterAll(() => page.context().close());

describe('a finger', () => {
  it('that goes down from the edge of a chosen word cuts nothing', async () => {
    const [at = 0] = await wideWords(page);
    await words().nth(at).tap();
    const box = await boxOf(words().nth(at));
    const x = box.x + 2;
    const y = box.y + 20;
    await touch('touchStart', { id: 0, x, y });
    for (let i = 1; i <= 10; i++) await touch('touchMove', { id: 0, x: x + i, y: y + 12 * i });
    await touch('touchEnd');
    expect(await nothingToUndo()).toBe(1);
    expect(await words().nth(at).getAttribute('aria-pressed')).toBe('true');
  });

  it('that reads on is not held up by a second one that comes down', async () => {
    const box = await boxOf(page.locator('.sheet-scroll'));
    const one = { id: 0, x: box.x + 300, y: box.y + 150 };
    await touch('touchStart', one);
    for (let i = 1; i <= 6; i++) await touch('touchMove', { ...one, y: one.y - 15 * i });
    const moved = { ...one, y: one.y - 90 };
    const two = { id: 1, x: one.x + 120, y: one.y };
    await touch('touchStart', moved, two);
    for (let i = 1; i <= 3; i++)
      await touch('touchMove', { ...moved, y: moved.y - 10 * i }, { ...two, x: two.x + 20 * i });
    await touch('touchEnd');
    await frame();
  });

  it('on the lane is not led by a second one', async () => {
    await button('A new flip').click();
    await words().first().tap();
    await button('set on the lane').click();
    const box = await boxOf(placed());
    const one = { id: 0, x: box.x + 8, y: box.y + 40 };
    const two = { id: 1, x: box.x + 500, y: box.y + 40 };
    const before = await placed().getAttribute('aria-label');
    await touch('touchStart', one);
    await touch('touchStart', one, two);
    await touch('touchMove', one, { ...two, x: two.x + 200 });
    await frame();
    expect(await placed().getAttribute('aria-label')).toBe(before);
    await touch('touchEnd', two);
    await touch('touchMove', { ...one, x: one.x + 300 });
    await expect.poll(() => placed().getAttribute('aria-label')).not.toBe(before);
    await touch('touchEnd');
  });

  it('that plays a pad does not drop what another one carries', async () => {
    const full = page.locator('.pad:not(.none)');
    const [a, b] = [await boxOf(full.nth(0)), await boxOf(full.nth(1))];
    const one = { id: 0, x: a.x + 10, y: a.y + 30 };
    const two = { id: 1, x: b.x + 10, y: b.y + 30 };
    await touch('touchStart', one);
    const start = await page.evaluate(() => performance.now());
    await page.waitForFunction((start) => performance.now() > start + 500, start);
    const away = { ...one, y: one.y + 300 };
    await touch('touchMove', away);
    await page.locator('.carried').waitFor();
    await touch('touchStart', away, two);
    await touch('touchEnd', two);
    expect(await page.locator('.carried').count()).toBe(1);
    expect(await nothingToUndo()).toBe(1);
    await page.keyboard.press('Escape');
    expect(await page.locator('.carried').count()).toBe(0);
    await touch('touchMove', { ...one, y: one.y + 280 });
    await frame();
    expect(await page.locator('.carried').count()).toBe(0);
    await touch('touchEnd');
    expect(await nothingToUndo()).toBe(1);
  });
});

describe('a button that went up elsewhere', () => {
  it('ends the drag of a cut', async () => {
    const [at = 0] = (await wideWords(page)).slice(1);
    const box = await boxOf(words().nth(at));
    const y = box.y + 20;
    await page.mouse.move(box.x + 1, y);
    await page.mouse.down();
    await page.mouse.move(box.x + 16, y, { steps: 3 });
    await moveFree(box.x + 18, y);
    const there = (await boxOf(words().nth(at))).x;
    await moveFree(box.x + 40, y);
    expect((await boxOf(words().nth(at))).x).toBe(there);
    await page.mouse.up();
    await button('Undo: move a cut').waitFor();
  });

  it('lets go of a pad that sounds as long as it is pressed', async () => {
    const pad = page.locator('.pad:not(.none)').first();
    await pad.click();
    await page.getByRole('combobox', { name: 'how long it plays' }).selectOption('repeats');
    await page.waitForFunction(() => document.querySelector('.pad.sounds') === null);
    const box = await boxOf(pad);
    await page.mouse.move(box.x + 10, box.y + 30);
    await page.mouse.down();
    await page.waitForFunction(() => document.querySelector('.pad.sounds') !== null);
    await moveFree(box.x + 12, box.y + 30);
    await page.waitForFunction(() => document.querySelector('.pad.sounds') === null);
    await page.mouse.up();
  });
});

describe('a cut under the hand', () => {
  it('stays under it while the lines are set closer', async () => {
    await page.getByRole('scrollbar', { name: 'Lines in view' }).press('Home');
    await button('Line 1').waitFor();
    // The end of the first word stands in the first row, however close the lines are.
    const word = words().first();
    const { x, y, width } = await boxOf(word);
    const at = { x: x + width, y: y + 20 };
    await page.keyboard.down('Alt');
    await page.mouse.move(at.x, at.y);
    await page.mouse.down();
    await page.mouse.move(at.x - 12, at.y, { steps: 3 });
    await page.keyboard.up('Alt');
    await page.keyboard.press('+');
    await expect.poll(async () => (await boxOf(word)).width).toBeGreaterThan(width);
    await page.keyboard.down('Alt');
    await page.mouse.move(at.x - 30, at.y, { steps: 3 });
    const now = await boxOf(word);
    expect(Math.abs(now.x + now.width - (at.x - 30))).toBeLessThan(4);
    await page.mouse.up();
    await page.keyboard.up('Alt');
    await page.keyboard.press('-');
  });
});

describe('a narrow word', () => {
  it('is heard where it is pressed at its edge', async () => {
    const [at = 0] = await wideWords(page);
    await words()
      .nth(at)
      .click({ position: { x: 1, y: 20 } });
    await page.waitForFunction(() => document.querySelector('.pad.sounds') !== null);
  });
});
