import type { Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { BuiltPage } from '../built-page.ts';
import { untilCountedIn } from '../counting-in.ts';
import { untilHeard } from '../listening.ts';
import { shortTake } from '../short-take.ts';
import type { Size } from './hands-at.ts';

/**
 * Everything that a hand does, by keys alone: there is no mouse and no finger here, and whatever has the
 * focus was reached with Tab and arrows (WCAG 2.2, 2.1.1 and 2.4.3). What the page says of each step under
 * "undo" tells that it was done, and that it was one step.
 */
export const keysAt = (built: BuiltPage, { width, height }: Size) =>
  describe(`at ${width} x ${height}, by keys`, () => {
    let page: Page;
    let errors: string[];

    const words = () => page.locator('.sheet-words .slice');
    const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
    const value = (name: string) => page.getByRole('spinbutton', { name, exact: true });
    const choice = (name: string | RegExp) => page.getByRole('combobox', { name, exact: true });
    const key = (keys: string) => page.keyboard.press(keys);

    /** Goes there with Tab, or back with Shift Tab where it stands before what has the focus. */
    const reach = async (target: Locator) => {
      const one = target.first();
      for (let tries = 0; tries < 60; tries++) {
        // How far it is, by what stands between: only to press so often before looking again.
        const steps = await one.evaluate((there) => {
          const here = document.activeElement ?? document.body;
          if (here === there) return 0;
          const stops = [
            ...document.querySelectorAll<HTMLElement>('button, input, select, a[href], [tabindex]'),
          ].filter(
            (stop) =>
              stop === here ||
              stop === there ||
              (stop.tabIndex >= 0 && !stop.matches(':disabled') && stop.checkVisibility()),
          );
          return stops.indexOf(there as HTMLElement) - stops.indexOf(here as HTMLElement);
        });
        if (steps === 0) return;
        for (let i = 0; i < Math.abs(steps); i++) await key(steps < 0 ? 'Shift+Tab' : 'Tab');
      }
      throw new Error(`Tab does not lead to ${target}.`);
    };
    const press = async (name: string | RegExp) => {
      await reach(button(name));
      await key('Enter');
    };
    /** One step of this name was made; it is taken back, unless it is to stay. */
    const made = async (step: string, keep: 'back' | 'keep' = 'back') => {
      await button(`Undo: ${step}`).waitFor();
      if (keep === 'back') {
        await key('Control+z');
        await button(`Redo: ${step}`).waitFor();
      }
    };
    const steps = async (name: string, step: string, keys = 'ArrowUp') => {
      await reach(value(name));
      await key(keys);
      await made(step);
    };
    const chooses = async (name: string, step: string) => {
      await reach(choice(name));
      await key('ArrowDown');
      await made(step);
    };
    const pressed = (name: string) => button(name).getAttribute('aria-pressed');
    const letGo = () => key('Escape');
    const focused = (attribute: string) =>
      page.evaluate((name) => document.activeElement?.getAttribute(name) ?? '', attribute);
    /** Goes with arrows to a pad that holds a slice, or to one that holds none. */
    const toPad = async (full: boolean) => {
      await reach(page.locator('.pad[tabindex="0"]'));
      for (let i = 0; i < 3; i++) await key('ArrowUp');
      for (let i = 0; i < 9; i++) await key('ArrowLeft');
      for (const way of ['ArrowRight', 'ArrowLeft', 'ArrowRight', 'ArrowLeft']) {
        for (let i = 0; i < 10; i++) {
          if ((await focused('aria-label')).endsWith('empty') !== full) return;
          await key(way);
        }
        await key('ArrowDown');
      }
      throw new Error(`There is no ${full ? 'full' : 'empty'} pad.`);
    };
    const toWords = () => reach(page.locator('.sheet-words .slice[tabindex="0"]'));
    /** Goes with arrows to a word that is long enough to be cut, and sets the mark in it. */
    const toCuttable = async () => {
      await toWords();
      await key('Home');
      for (let i = 0; i < 12; i++) {
        await key('Alt+Period');
        if ((await page.locator('.sheet-mark').count()) > 0) return;
        await key('ArrowRight');
      }
      throw new Error('No word can be cut.');
    };

    beforeAll(async () => {
      ({ page, errors } = await built.open({ viewport: { width, height } }));
      page.setDefaultTimeout(20_000);
      const choosing = page.waitForEvent('filechooser');
      await press('open one');
      await (await choosing).setFiles(shortTake());
      await words().first().waitFor();
    });
    afterAll(() => page.context().close());

    it('opens the chooser of files by its keys', async () => {
      const choosing = page.waitForEvent('filechooser');
      // Keys go to the page by another way than the wish to be told of choosers, and may overtake it.
      await page.evaluate(() => {});
      await key('Control+o');
      await choosing;
    });

    it('hears words, chooses a range, and takes the range back', async () => {
      await toWords();
      await key('Enter');
      await untilHeard(page);
      await key('Home');
      await key('Shift+ArrowRight');
      await page.getByText('2 slices', { exact: false }).first().waitFor();
      await key('Shift+H');
      await expect.poll(() => pressed('take')).toBe('true');
      await key('Space');
      await expect.poll(() => pressed('take')).toBe('false');
      await letGo();
    });

    it('cuts a word at the mark and joins it again', async () => {
      await toCuttable();
      const at = () => page.locator('.sheet-mark').evaluate((one) => one.getBoundingClientRect().x);
      const before = await at();
      await key('Alt+Period');
      await expect.poll(at).toBeGreaterThan(before);
      await key('Shift+S');
      await made('split a slice', 'keep');
      await key('Shift+J');
      await made('join slices');
      await made('split a slice');
    });

    it('moves a cut and a landing, by a hair and further; joins and deletes', async () => {
      await toWords();
      await key('Home');
      await key('ArrowRight');
      for (const keys of ['Alt+ArrowRight', 'Alt+Shift+ArrowRight']) {
        await key(keys);
        await made('move a cut');
      }
      await key('Alt+Shift+ArrowDown');
      await made('move a landing');
      await key('Delete');
      await made('join slices');
      await toWords();
      await key('ArrowRight');
      await press('delete');
      await made('delete a slice');
    });

    it('splits at the play head', async () => {
      await letGo();
      await key('Shift+P');
      await page.waitForFunction(() => document.querySelector('.sheet .head-line.on'));
      await button('take').and(page.locator('[aria-pressed="true"]')).waitFor();
      await untilHeard(page);
      // Where the play head is just at a cut there is no room for another: it is tried again further on.
      const cut = page.getByRole('button', { name: /^Undo: (split|add) a slice$/ });
      await expect
        .poll(async () => {
          if ((await cut.count()) === 0) await key('Shift+S');
          return cut.count();
        })
        .toBe(1);
      await key('Space');
      await expect.poll(() => pressed('take')).toBe('false');
      await key('Control+z');
    });

    it('makes fewer and more cuts', async () => {
      await letGo();
      await reach(page.getByRole('slider', { name: 'Fewer or more cuts' }));
      await key('End');
      await made('change how many cuts');
    });

    it('zooms, scrolls, and fills the width', async () => {
      const frame = page.getByRole('scrollbar', { name: 'Lines in view' });
      await reach(frame);
      await key('End');
      await key('Home');
      await expect.poll(() => frame.getAttribute('aria-valuenow')).toBe('0');
      await toWords();
      const wide = () =>
        words()
          .first()
          .evaluate((one) => one.clientWidth);
      const before = await wide();
      await key('+');
      await expect.poll(wide).toBeGreaterThan(before);
      await key('-');
      await expect.poll(wide).toBe(before);
      await press('full lines');
      await expect.poll(() => pressed('full lines')).toBe('true');
      await key('Enter');
    });

    it('chooses lines, one, and on to the next', async () => {
      await press('Line 1');
      await page.getByText(/^Line 1 lasts/).waitFor();
      if ((await button('Line 2').count()) > 0) {
        await reach(button('Line 2'));
        await key('Shift+Enter');
        await page.getByText(/^Lines 1 to 2/).waitFor();
      }
      await letGo();
    });

    it('sets a beat, moves it, and tells the beats in every way there is', async () => {
      await toCuttable();
      await key('Shift+D');
      await made('add a beat');
      await letGo();
      await reach(page.locator('.sheet-words .beat[tabindex="0"]'));
      await key('ArrowRight');
      await key('Alt+ArrowRight');
      await made('move a beat');
      const again = async () => {
        await letGo();
        await reach(page.locator('.sheet-words .beat[tabindex="0"]'));
        await key('ArrowRight');
      };
      for (const [keys, step] of [
        ['Enter', 'mark the one'],
        ['Delete', 'remove a beat'],
      ] as const) {
        await again();
        await key(keys);
        await made(step);
      }
      await again();
      await key('Alt+Enter');
      expect(await page.evaluate(() => document.activeElement?.closest('.sentence') !== null)).toBe(
        true,
      );
      for (const [deed, step] of [
        ['twice as many', 'double the beats'],
        ['half as many', 'halve the beats'],
        ['half a beat later', 'shift the beats'],
        ['freely from here', 'count freely from here'],
      ] as const) {
        await again();
        await press(deed);
        await made(step);
      }
      // Or not from there on, but all through: then there are more before it, too.
      await again();
      const chosen = Number(await focused('data-beat'));
      const earlier = () =>
        page
          .locator('.sheet-words .beat')
          .evaluateAll(
            (all, time) =>
              all.filter((one) => Number((one as HTMLElement).dataset.beat) < time - 0.001).length,
            chosen,
          );
      const before = await earlier();
      await reach(choice('how far beats change'));
      await key('ArrowDown');
      await press('twice as many');
      await expect.poll(earlier).toBeGreaterThan(before);
      await made('double the beats');
      await reach(choice('how far beats change'));
      await key('ArrowUp');
      await letGo();
    });

    it('keeps hold of a beat while all beats are inferred again', async () => {
      await reach(page.locator('.sheet-words .beat[tabindex="0"]'));
      await key('ArrowRight');
      const held = () => focused('data-beat').then(Number);
      const before = await held();
      // Faster than any inference: three presses before the first of them is answered.
      await page.evaluate(() => {
        for (let i = 0; i < 3; i++)
          document.activeElement?.dispatchEvent(
            new KeyboardEvent('keydown', { key: 'ArrowRight', altKey: true, bubbles: true }),
          );
      });
      await expect.poll(held).toBeCloseTo(before + 0.015, 6);
      for (let i = 0; i < 3; i++) await made('move a beat');
      // Taken back, the focus has not gone, but to the beat that lies there now.
      await expect.poll(held).toBeCloseTo(before, 6);
      await letGo();
    });

    it('taps beats along while the take plays', async () => {
      await key('Shift+T');
      await page.locator('.sheet .head-line.on').waitFor();
      await key('x');
      await page.getByText('One beat so far').waitFor();
      await press('done');
      await made('tap beats');
      await untilHeard(page, false);
    });

    it('plays pads from the letters and from the focus, alone and together', async () => {
      for (const one of ['1', 'q']) await page.keyboard.down(one);
      await untilHeard(page);
      for (const one of ['1', 'q']) await page.keyboard.up(one);
      await untilHeard(page, false);
      await toPad(true);
      await key('Enter');
      await untilHeard(page);
      await letGo();
    });

    it('fills a row from a line, brings words to pads, swaps and clears them', async () => {
      await press('Line 1');
      await press('4');
      await made('fill a row');
      await toWords();
      await key('Home');
      await toPad(false);
      await key('Shift+Enter');
      await made('put slices on pads', 'keep');
      await toPad(true);
      await key('Enter');
      const name = (label: string) => label.split(', ').slice(1).join(', ');
      const carried = name(await focused('aria-label'));
      await key('ArrowRight');
      await key('Shift+Enter');
      await made('swap pads', 'keep');
      expect(name(await focused('aria-label'))).toBe(carried);
      await key('Delete');
      await made('clear a pad');
      await made('swap pads');
      await made('put slices on pads');
      await letGo();
    });

    it('says how a pad sounds, in its sentence', async () => {
      await toPad(true);
      await key('Enter');
      await steps('pitch in semitones', "change a pad's pitch", 'ArrowDown');
      await steps('tuning in cents', "change a pad's tuning");
      await steps('level', "change a pad's level", 'PageDown');
      await steps('fade in', 'set fades');
      await steps('fade out', 'set fades');
      await chooses('direction', "turn a pad's direction");
      await chooses('how long it plays', 'change how a pad plays');
      await chooses('choke group', 'change a choke group');
      await reach(value('pitch in semitones'));
      await page.keyboard.type('7 lower');
      await key('Escape');
      expect(await value('pitch in semitones').getAttribute('aria-valuenow')).toBe('0');
      await letGo();
    });

    it('makes a straight loop and says how it goes', async () => {
      await press('Line 1');
      await key('Shift+L');
      await page.getByText('seam: ').first().waitFor();
      await steps('bars', 'change the bars');
      await steps('tempo', 'change the tempo');
      await steps('steady', 'change how steady', 'ArrowDown');
      await steps('tighten', 'change how tight');
      await steps('swing', 'change the swing');
      await chooses('metre', 'change the metre');
      await chooses('grid', 'change the grid');
      await letGo();
      await press('Line 1');
      await letGo();
    });

    it('hears the loop, its seam, both sides, and what is chosen round and round', async () => {
      await key('Shift+O');
      await untilHeard(page);
      await key('Shift+A');
      await button(/^Comparing: the loop/).waitFor();
      await key('Shift+A');
      await button(/^Comparing: the take/).waitFor();
      await press('hear the seam');
      await expect.poll(() => pressed('hear the seam')).toBe('true');
      await key('Enter');
      await untilHeard(page, false);
      await press('Line 1');
      await key('Shift+R');
      await expect.poll(() => pressed('take')).toBe('true');
      await key('Space');
      await expect.poll(() => pressed('take')).toBe('false');
      await letGo();
    });

    it('chooses what plays along, how a stem is heard, and how loud it all is', async () => {
      await press('listening');
      await page.getByRole('dialog').waitFor();
      for (const [name, before] of [
        ['what plays with the loop', 'nothing'],
        ['what plays with the take', 'nothing'],
        ['how Harp is heard', 'heard'],
      ] as const) {
        await reach(choice(name));
        await key('ArrowDown');
        await expect.poll(() => choice(name).inputValue()).not.toBe(before);
        await key('ArrowUp');
        await expect.poll(() => choice(name).inputValue()).toBe(before);
      }
      await key('Escape');
      await page.locator('dialog').waitFor({ state: 'detached' });
      await reach(value('listening level'));
      await key('ArrowUp');
      expect(await value('listening level').getAttribute('aria-valuenow')).toBe('-17');
      await key('ArrowDown');
      await letGo();
    });

    it('sets words on the lane, moves and lengthens them, repeats, varies and versions', async () => {
      await press('A new flip');
      await toWords();
      await key('Home');
      await key('Shift+N');
      await key('ArrowRight');
      await key('Shift+N');
      const placed = page.locator('.lane-word');
      await expect.poll(() => placed.count()).toBe(2);
      const onLane = async () => {
        await letGo();
        await reach(page.locator('.lane-word[tabindex="0"]'));
        await key('Enter');
      };
      await onLane();
      await untilHeard(page);
      await key('Alt+ArrowRight');
      await made('move');
      await onLane();
      await key('Alt+Shift+ArrowLeft');
      await made('change a length');
      await onLane();
      await key('Shift+ArrowRight');
      await expect.poll(() => page.locator('.lane-word[aria-pressed="true"]').count()).toBe(2);
      await key('Shift+ArrowLeft');
      await expect.poll(() => page.locator('.lane-word[aria-pressed="true"]').count()).toBe(1);
      for (const [deed, step] of [
        ['repeat', 'repeat'],
        ['copy this bar on', 'copy a bar'],
      ] as const) {
        await onLane();
        await press(deed);
        await made(step);
      }
      await onLane();
      await key('Delete');
      await made('remove from the lane');
      await press('vary');
      await press('copy');
      await made('duplicate a lane');
      await press('delete');
      await made('delete a lane');
    });

    it('plays pads into the lane after a count-in, instead of what is there', async () => {
      await reach(choice('how a pass is taken down'));
      await key('ArrowDown');
      await untilCountedIn(page, () => press('play it in'));
      await page.keyboard.down('1');
      await untilHeard(page);
      await page.keyboard.up('1');
      await press('play it in');
      await made('play a pass');
      await untilHeard(page, false);
    });

    it('undoes and does again, names, copies, deletes and brings back projects', async () => {
      await key('Shift+L');
      await key('Control+z');
      await key('Control+Shift+z');
      await page.getByRole('button', { name: 'Redo: nothing' }).waitFor();
      const title = page.getByRole('textbox', { name: 'Name of the project' });
      await reach(title);
      await key('End');
      await page.keyboard.type(' again');
      await key('Enter');
      await made('rename');
      await press('projects');
      await press(/^Copy /);
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(2);
      await press(/^Delete Ebb mix, copy/);
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(1);
      await key('Escape');
      await press('bring it back');
      await press('projects');
      await expect.poll(() => page.locator('.projects-list li').count()).toBe(2);
      await key('Escape');
    });

    it('shows its keys, and saves the loop, by keys', async () => {
      await page.locator('dialog').waitFor({ state: 'detached' });
      await key('?');
      await page.getByRole('dialog', { name: 'Keys' }).waitFor();
      await key('Escape');
      await page.locator('dialog').waitFor({ state: 'detached' });
      await key('Control+s');
      await page.getByRole('dialog').waitFor();
      const coming = page.waitForEvent('download');
      await key('Enter');
      await coming;
      await key('Escape');
    });

    it('went without an error', () => {
      expect(errors).toEqual([]);
    });
  });
