import type { Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { BuiltPage } from '../built-page.ts';
import { untilCountedIn } from '../counting-in.ts';
import { untilHeard } from '../listening.ts';
import { boxOf, finger, type Hand, mouseHand } from '../page-hands.ts';
import { shortTake } from '../short-take.ts';
import { wideWords } from '../states.ts';

export interface Size {
  readonly width: number;
  readonly height: number;
}

/**
 * What hands do, at a size of the page, with a mouse or with a finger. What the page says of each step under
 * "undo" tells that it was done, and that it was one step.
 */
export const handsAt = (built: BuiltPage, { width, height }: Size, by: 'mouse' | 'finger') =>
  describe(`at ${width} x ${height}, by ${by}`, () => {
    let page: Page;
    let errors: string[];
    let hand: Hand;

    const words = () => page.locator('.sheet-words .slice');
    const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
    const press = async (name: string | RegExp) => {
      const box = await boxOf(button(name).first());
      await hand.press({ x: box.x + box.width / 2, y: box.y + box.height / 2 });
    };
    /** One step of this name was made; it is taken back, unless it is to stay. */
    const made = async (step: string, keep: 'back' | 'keep' = 'back') => {
      await button(`Undo: ${step}`).waitFor();
      if (keep === 'back') {
        await button(`Undo: ${step}`).click();
        await button(`Redo: ${step}`).waitFor();
      }
    };
    const wide = async (k = 0) => words().nth((await wideWords(page))[k] ?? 0);
    /** The word as a place: its middle, or so much of its width from its start. */
    const spot = async (k = 0, share = 0.5, down = 24) => {
      const box = await boxOf(await wide(k));
      return { x: box.x + box.width * share, y: box.y + down };
    };
    /** Pads that hold a slice, and pads that hold none, whatever the hearing suggested. */
    const pad = (which: 'full' | 'empty', k = 0) =>
      page.locator(which === 'full' ? '.pad:not(.none)' : '.pad.none').nth(k);
    const onPad = async (which: 'full' | 'empty', k = 0) => {
      const box = await boxOf(pad(which, k));
      return { x: box.x + box.width / 2, y: box.y + box.height / 2 };
    };
    /** Over a wide word: where beats stand, and a place where none is near. */
    const margin = async () => {
      const word = await boxOf(await wide());
      const dots = await page
        .locator('.sheet-words .beat')
        .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().x + 9));
      const free = Array.from({ length: 60 }, (_, i) => word.x + 8 + i * 4).find((x) =>
        dots.every((dot) => Math.abs(dot - x) > 24),
      );
      if (free === undefined) throw new Error('Beats stand everywhere.');
      return { word, dots, free };
    };
    const letGo = () => page.keyboard.press('Escape');

    beforeAll(async () => {
      const hasTouch = by === 'finger';
      const viewport = { width, height };
      ({ page, errors } = await built.open({ viewport, hasTouch, files: shortTake() }));
      page.setDefaultTimeout(20_000);
      hand = by === 'mouse' ? mouseHand(page) : await finger(page);
      await words().first().waitFor();
    });
    afterAll(() => page.context().close());

    it('hears a word, cuts it where it was pressed and joins it again', async () => {
      await hand.press(await spot(0, 0.6));
      await untilHeard(page);
      await page.locator('.sheet-mark').waitFor();
      await press('split here');
      await made('split a slice', 'keep');
      await press('join');
      await made('join slices');
      await made('split a slice');
    });

    it('moves a cut and a landing of the chosen word', async () => {
      await hand.press(await spot(1));
      const box = await boxOf(await wide(1));
      await hand.drag({ x: box.x + 1, y: box.y + 20 }, { x: box.x + 16, y: box.y + 20 });
      await made('move a cut');
      const foot = { x: box.x + 1, y: box.y + box.height + 6 };
      await hand.drag(foot, { x: foot.x + 14, y: foot.y });
      await made('move a landing');
    });

    it('chooses several words, deletes them, and reads on by the frame of the strip', async () => {
      await hand.press(await spot(1));
      await press('the next too');
      await page.getByText('2 slices', { exact: false }).first().waitFor();
      await press('delete');
      await made('delete slices');
      await letGo();
      const frame = page.getByRole('scrollbar', { name: 'Lines in view' });
      const strip = await boxOf(page.locator('.strip-paper'));
      const y = strip.y + strip.height / 2;
      // Upright all lines are in view, and there is nothing to read on to, until they are set closer.
      const sheet = await spot();
      if (height > width) for (let i = 0; i < 2; i++) await hand.zoom(sheet, 'closer');
      const before = await frame.getAttribute('aria-valuetext');
      await hand.drag({ x: strip.x + 6, y }, { x: strip.x + strip.width - 20, y });
      await expect.poll(() => frame.getAttribute('aria-valuetext')).not.toBe(before);
      await hand.drag({ x: strip.x + strip.width - 6, y }, { x: strip.x + 2, y });
      await expect.poll(() => frame.getAttribute('aria-valuetext')).toBe(before);
      if (height > width) for (let i = 0; i < 2; i++) await hand.zoom(sheet, 'wider');
    });

    it('sets the lines closer and wider', async () => {
      const first = words().first();
      const { x, y, width } = await boxOf(first);
      await hand.zoom({ x: x + 60, y: y + 20 }, 'wider');
      await expect.poll(async () => (await boxOf(first)).width).toBeLessThan(width * 0.95);
      await hand.zoom({ x: x + 60, y: y + 20 }, 'closer');
      await expect.poll(async () => (await boxOf(first)).width).toBeGreaterThan(width * 0.95);
      await page.keyboard.press('Escape');
      await page.getByRole('scrollbar', { name: 'Lines in view' }).press('Home');
    });

    it('makes fewer and more cuts', async () => {
      await letGo();
      const box = await boxOf(page.getByRole('slider', { name: 'Fewer or more cuts' }));
      await hand.press({ x: box.x + box.width * 0.9, y: box.y + box.height / 2 });
      await made('change how many cuts');
    });

    it('sets a beat, moves it, and tells the beats in every way there is', async () => {
      const { word, free, dots } = await margin();
      await hand.twice({ x: free, y: word.y - 9 });
      await made('add a beat');
      const dot = dots.find((x) => x > word.x + 30) ?? 0;
      await hand.drag({ x: dot, y: word.y - 8 }, { x: dot + 12, y: word.y - 8 });
      await made('move a beat');
      const back = () =>
        expect
          .poll(() =>
            page
              .locator('.sheet-words .beat')
              .evaluateAll(
                (all, dot) =>
                  all.some((one) => Math.abs(one.getBoundingClientRect().x + 9 - dot) < 1),
                dot,
              ),
          )
          .toBe(true);
      await back();
      await hand.press({ x: dot, y: word.y - 8 });
      for (const [deed, step] of [
        ['it is the one', 'mark the one'],
        ['twice as many', 'double the beats'],
        ['half as many', 'halve the beats'],
        ['half a beat later', 'shift the beats'],
        ['freely from here', 'count freely from here'],
        ['no beat here', 'remove a beat'],
      ] as const) {
        await press(deed);
        await made(step);
        await back();
        await hand.press({ x: dot, y: word.y - 8 });
      }
    });

    it('chooses nothing where it presses beside a word and no beat stands', async () => {
      await letGo();
      const { word, free } = await margin();
      await page.evaluate(() => {
        const { promise, resolve } = Promise.withResolvers<void>();
        addEventListener('click', () => setTimeout(resolve), { once: true });
        Object.assign(window, { pressed: promise });
      });
      await hand.press({ x: free, y: word.y - 9 });
      await page.evaluate(() => (window as unknown as { pressed: Promise<void> }).pressed);
      expect(await page.locator('.sheet-words [aria-pressed="true"]').count()).toBe(0);
    });

    it('taps beats along while the take plays', async () => {
      await letGo();
      await press('tap the beat along');
      await page.locator('.sheet .head-line.on').waitFor();
      const box = await boxOf(button('tap'));
      await hand.press({ x: box.x + 60, y: box.y + 20 });
      await page.getByText('One beat so far').waitFor();
      await press('done');
      await made('tap beats');
      await untilHeard(page, false);
    });

    it('chooses lines and fills a row of pads with them', async () => {
      const line = await boxOf(button('Line 1'));
      await hand.press({ x: line.x + 15, y: line.y + 20 });
      await page.getByText(/^Line 1 lasts/).waitFor();
      await press('4');
      await made('fill a row');
      await letGo();
    });

    it('plays pads, carries words to them, swaps and clears them', async () => {
      const first = await onPad('full');
      const free = await onPad('empty', 3);
      await hand.press(first);
      await untilHeard(page);
      await letGo();
      await hand.carry(await spot(1), free);
      await made('put slices on pads', 'keep');
      await hand.carry(free, first);
      await made('swap pads', 'keep');
      await hand.press(first);
      await press('clear');
      await made('clear a pad');
      await made('swap pads');
      await made('put slices on pads');
    });

    it('says how a pad sounds, in its sentence', async () => {
      await hand.press(await onPad('full', 1));
      const pitch = await boxOf(page.getByRole('spinbutton', { name: 'pitch in semitones' }));
      const at = { x: pitch.x + 10, y: pitch.y + pitch.height / 2 };
      await hand.drag(at, { x: at.x + 14, y: at.y });
      await made("change a pad's pitch");
      for (const [name, value, step] of [
        ['direction', 'backwards', "turn a pad's direction"],
        ['how long it plays', 'held', 'change how a pad plays'],
        ['choke group', 'B', 'change a choke group'],
      ] as const) {
        await page.getByRole('combobox', { name }).selectOption(value);
        await made(step);
      }
      for (const [name, value, step] of [
        ['tuning in cents', '-12', "change a pad's tuning"],
        ['level', '-6', "change a pad's level"],
        ['fade in', '5', 'set fades'],
        ['fade out', '20', 'set fades'],
      ] as const) {
        const field = page.getByRole('spinbutton', { name, exact: true });
        await field.fill(value);
        await field.press('Enter');
        await made(step);
      }
    });

    it('makes a straight loop, hears it, its seam, and both sides', async () => {
      const line = await boxOf(button('Line 1'));
      await hand.press({ x: line.x + 15, y: line.y + 20 });
      await press('make a straight loop');
      await page.getByText('seam: ').first().waitFor();
      await press('loop');
      await untilHeard(page);
      await press(/^Compare/);
      await press(/^Comparing: the loop/);
      await button(/^Comparing: the take/).waitFor();
      await press('hear the seam');
      await page.waitForFunction(
        () => document.querySelector('.versions-deeds [aria-pressed="true"]') !== null,
      );
      await press('hear the seam');
      await untilHeard(page, false);
    });

    it('sets words on the lane, moves and lengthens them, repeats and varies', async () => {
      for (const note of await button('good').all()) await note.click();
      await letGo();
      await press('A new flip');
      const paper = await boxOf(page.locator('.lane-paper'));
      await hand.carry(await spot(1), { x: paper.x + paper.width * 0.26, y: paper.y + 80 });
      const placed = page.locator('.lane-word');
      await placed.first().waitFor();
      await letGo();
      const box = await boxOf(placed.first());
      const inside = { x: box.x + Math.min(12, box.width / 3), y: box.y + 40 };
      await hand.drag(inside, { x: inside.x + paper.width / 4, y: inside.y });
      await made('move on the lane');
      const end = { x: box.x + box.width - 5, y: box.y + 40 };
      await hand.drag(end, { x: end.x - box.width / 2, y: end.y });
      await made('change a length');
      await hand.press(inside);
      for (const [deed, count] of [
        ['repeat', 2],
        ['copy this bar on', 2],
      ] as const) {
        await press(deed);
        await expect.poll(() => placed.count()).toBeGreaterThanOrEqual(count);
        await page.keyboard.press('Control+z');
        await expect.poll(() => placed.count()).toBe(1);
        await hand.press(inside);
      }
      await press('remove');
      await made('remove from the lane');
      await press('vary');
      await press('copy');
      await made('duplicate a lane');
    });

    it('plays pads into the lane after a count-in', async () => {
      await untilCountedIn(page, () => press('play it in'));
      await hand.press(await onPad('full', 1));
      await untilHeard(page);
      await press('play it in');
      await button('Undo: play a pass').waitFor();
      expect(await page.locator('.lane-word').count()).toBeGreaterThan(0);
      await untilHeard(page, false);
    });

    it('renames, copies and deletes projects and brings one back', async () => {
      await press('projects');
      await press(/^Copy /);
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(2);
      await press(/^Delete Ebb mix, copy/);
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(1);
      await press('close');
      await press('bring it back');
      await press('projects');
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(2);
      await press('close');
    });

    it('went without an error', () => {
      expect(errors).toEqual([]);
    });
  });
