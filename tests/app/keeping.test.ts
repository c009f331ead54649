import type { BrowserContext, Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { untilCountedIn } from './counting-in.ts';
import { shortTake } from './short-take.ts';

/** What a user made must not be lost: by a second window, by a full or cleared store, by something else opened. */
const built = useBuiltPage();
const take = shortTake().slice(0, 1);
const other = shortTake(30)
  .slice(0, 1)
  .map((file) => ({ ...file, name: 'Flood mix.wav' }));

const words = (page: Page) => page.locator('.sheet-words .slice');
const title = (page: Page) => page.getByRole('textbox', { name: 'Name of the project' });
const button = (page: Page, name: string | RegExp) =>
  page.getByRole('button', { name, exact: true });
const rename = async (page: Page, name: string) => {
  await title(page).fill(name);
  await title(page).press('Enter');
};
const saved = (page: Page) => page.locator('.saved', { hasText: /^saved$/ }).waitFor();
const window2 = async (context: BrowserContext) => {
  const page = await context.newPage();
  page.setDefaultTimeout(30_000);
  await page.goto(built.address());
  await words(page).first().waitFor();
  return page;
};
const kept = async (page: Page) => {
  await button(page, 'projects').click();
  const names = page.locator('.projects-list .open');
  await names.first().waitFor();
  const list = await names.allTextContents();
  await button(page, 'close').click();
  return list.map((name) => name.trim()).sort();
};
const give = async (page: Page, files: typeof take) => {
  const choosing = page.waitForEvent('filechooser');
  await button(page, 'open').click();
  await (await choosing).setFiles(files);
};

describe('a project that another window has open', () => {
  const sentence = 'Another window has this project open, so it can be heard here but not changed.';
  const told = (page: Page) => page.getByText(sentence);
  const over = (page: Page) => button(page, 'take over here').click();
  const undoes = (page: Page) => page.getByRole('button', { name: /^Undo:/ });
  const two = async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await rename(page, 'first');
    await saved(page);
    const second = await window2(page.context());
    await told(second).waitFor();
    return { page, second, errors };
  };

  it('is heard but not changed in the second window, which says so in a sentence', async () => {
    const { page, second, errors } = await two();
    await second.getByText('open in another window', { exact: true }).waitFor();
    await button(second, 'good').click();
    expect(await told(second).count()).toBe(0);
    // Whatever is tried brings the sentence back.
    await rename(second, 'second');
    await told(second).waitFor();
    expect(await title(second).inputValue()).toBe('first');
    expect(await undoes(second).isDisabled()).toBe(true);
    await button(second, 'take').click();
    await second.getByRole('button', { name: 'take', pressed: true }).waitFor();
    await rename(page, 'first again');
    await saved(page);
    await expect.poll(() => kept(page)).toEqual(['first again']);
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('is taken over there, without a network too, with what the first one has just done', async () => {
    const { page, second, errors } = await two();
    await page.context().setOffline(true);
    // Not yet saved when the other window asks for it.
    await rename(page, 'just now');
    await over(second);
    await told(page).waitFor();
    await expect.poll(() => title(second).inputValue()).toBe('just now');
    await expect.poll(() => told(second).count()).toBe(0);
    await rename(second, 'taken over');
    await saved(second);
    await undoes(second).click();
    await expect.poll(() => title(second).inputValue()).toBe('just now');
    await undoes(second).click();
    await expect.poll(() => title(second).inputValue()).toBe('first');
    await button(second, "Redo: the other window's work").click();
    await saved(second);
    // And back: the first window's steps are still its own.
    await over(page);
    await told(second).waitFor();
    await expect.poll(() => told(page).count()).toBe(0);
    expect(await title(page).inputValue()).toBe('just now');
    await undoes(page).click();
    await undoes(page).click();
    await expect.poll(() => title(page).inputValue()).toBe('first');
    await saved(page);
    await expect.poll(() => kept(page)).toEqual(['first']);
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('is taken over there with what was being played in just then', async () => {
    const { page, second, errors } = await two();
    const setValue = async (name: string, value: string) => {
      const field = page.getByRole('spinbutton', { name, exact: true });
      await field.fill(value);
      await field.press('Enter');
    };
    await button(page, 'A new flip').click();
    // Long enough that the pass is not over by itself.
    await setValue('tempo', '240');
    await setValue('bars', '16');
    await page.keyboard.press('Escape');
    await untilCountedIn(page, () => button(page, 'play it in').click());
    await page.locator('.lane .head-line.on').waitFor();
    await page.keyboard.press('1');
    await over(second);
    await told(page).waitFor();
    await expect.poll(() => told(second).count()).toBe(0);
    await expect.poll(() => second.locator('.lane-word').count()).toBe(1);
    expect(await page.locator('.lane-word').count()).toBe(1);
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it("is this window's own when the other closes, with all steps back", async () => {
    const { page, second, errors } = await two();
    await over(second);
    await told(page).waitFor();
    await second.close();
    await expect.poll(() => told(page).count()).toBe(0);
    await undoes(page).click();
    await expect.poll(() => title(page).inputValue()).toBe('Ebb mix');
    await saved(page);
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('is taken from a window that sleeps, whose work is kept apart', async () => {
    const { page, second, errors } = await two();
    // It answers no wish, and what it does meanwhile cannot be saved.
    await page.evaluate(() => {
      const put = IDBObjectStore.prototype.put;
      IDBObjectStore.prototype.put = function (...all) {
        if (this.name === 'projects' && (window as unknown as { asleep: boolean }).asleep)
          throw new DOMException('Later.', 'AbortError');
        return put.apply(this, all);
      };
      Object.assign(window, { asleep: true });
      BroadcastChannel.prototype.postMessage = () => {};
    });
    await rename(page, 'of the first');
    await page.getByText('not saved', { exact: true }).waitFor();
    await over(second);
    await told(page).waitFor();
    await expect.poll(() => told(second).count()).toBe(0);
    await rename(second, 'of the second');
    await expect.poll(() => title(second).inputValue()).toBe('of the second');
    await saved(second);
    await page.evaluate(() => Object.assign(window, { asleep: false }));
    await give(page, other);
    await expect.poll(() => title(page).inputValue()).toBe('Flood mix');
    await words(page).first().waitFor();
    await saved(page);
    await expect
      .poll(() => kept(page))
      .toEqual(['Flood mix', 'of the first, from another window', 'of the second']);
    expect(errors).toEqual([]);
    await page.context().close();
  });
});

describe('what was done last', () => {
  it('is there after a reload at once, and in a window that is opened when this one is closed', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await saved(page);
    for (const name of ['one', 'two', 'three']) {
      await rename(page, name);
      await page.reload();
      await words(page).first().waitFor();
      expect(await title(page).inputValue()).toBe(name);
    }
    await rename(page, 'four');
    const context = page.context();
    await page.close();
    const again = await window2(context);
    expect(await title(again).inputValue()).toBe('four');
    expect(errors).toEqual([]);
    await context.close();
  });
});

describe('the list of projects', () => {
  it('shows what another window has made and deleted meanwhile', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await rename(page, 'first');
    await saved(page);
    const second = await window2(page.context());
    await give(second, other);
    await expect.poll(() => title(second).inputValue()).toBe('Flood mix');
    await words(second).first().waitFor();
    await expect.poll(() => kept(page)).toEqual(['Flood mix', 'first']);
    await button(second, 'projects').click();
    await button(second, 'Delete Flood mix').click();
    await second.getByText('is deleted').first().waitFor();
    await button(page, 'projects').click();
    await button(page, 'Bring back Flood mix').waitFor();
    expect(await page.locator('.projects-list .open').allTextContents()).toEqual(['first']);
    // Where the list lies open it is looked at again once its window comes to the front.
    await second.locator('dialog button', { hasText: 'bring it back' }).click();
    await second.locator('.projects-list .open', { hasText: 'Flood mix' }).waitFor();
    await page.evaluate(() => window.dispatchEvent(new Event('focus')));
    await page.locator('.projects-list .open', { hasText: 'Flood mix' }).waitFor();
    expect(errors).toEqual([]);
    await page.context().close();
  });
});

describe('a deleted project', () => {
  it('stays deleted, though something done to it just before was not saved yet', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await saved(page);
    // The moment it is marked as deleted, the page saves whatever waits.
    await page.evaluate(() => {
      const { put } = IDBObjectStore.prototype;
      IDBObjectStore.prototype.put = function (this: IDBObjectStore, value, key) {
        if (typeof value?.removed === 'number')
          this.transaction.addEventListener('complete', () =>
            window.dispatchEvent(new Event('beforeunload')),
          );
        return put.call(this, value, key);
      };
    });
    await button(page, 'projects').click();
    const remove = await button(page, 'Delete Ebb mix').elementHandle();
    await page.evaluate((press) => {
      const name = document.querySelector<HTMLInputElement>('input.title');
      if (!name) throw new Error('no title');
      name.value = 'Ebb, renamed';
      name.dispatchEvent(new Event('input', { bubbles: true }));
      name.dispatchEvent(new Event('change', { bubbles: true }));
      (press as HTMLElement).click();
    }, remove);
    await page.getByText('is deleted').first().waitFor();
    await page.reload();
    await button(page, 'projects').click();
    await button(page, 'Bring back Ebb, renamed').waitFor();
    expect(await page.locator('.projects-list .open').count()).toBe(0);
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('can be brought back after a reload, as it was', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await rename(page, 'A/B: \u{1F3B9}');
    await saved(page);
    await button(page, 'projects').click();
    await button(page, /^Delete /).click();
    await page.getByText('is deleted').first().waitFor();
    await page.reload();
    await button(page, 'projects').click();
    await button(page, 'Bring back A/B: \u{1F3B9}').click();
    await page.locator('.projects-list .open').click();
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('A/B: \u{1F3B9}');
    expect(errors).toEqual([]);
    await page.context().close();
  });
});

describe('while a take is heard', () => {
  /** The demo has been played and lies on the desk, but is not heard yet. */
  const heardNow = (page: Page) =>
    page.waitForFunction(
      () => document.querySelector<HTMLInputElement>('input.title')?.value === 'Slack Water',
    );

  it('another one that is opened takes its place', async () => {
    const { page, errors } = await built.open();
    await button(page, 'try the demo take').click();
    await heardNow(page);
    await give(page, take);
    // The demo may have been heard to its end meanwhile: its words are not the other's.
    await expect.poll(() => title(page).inputValue()).toBe('Ebb mix');
    await words(page).first().waitFor();
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('giving it up brings back the project that was open', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await rename(page, 'mine');
    await button(page, 'projects').click();
    await button(page, 'Demo take').click();
    await heardNow(page);
    await button(page, 'cancel').click();
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('mine');
    await page.reload();
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('mine');
    expect(errors).toEqual([]);
    await page.context().close();
  });
});

describe('a browser that', () => {
  it('keeps nothing says so, and still hands the project over as a file', async () => {
    const { page, errors } = await built.open({
      files: take,
      prepare: (page) =>
        page.addInitScript(() => {
          IDBFactory.prototype.open = () => {
            throw new DOMException('A mutation operation was attempted.', 'InvalidStateError');
          };
        }),
    });
    await words(page).first().waitFor();
    await page.getByText('not saved: this browser keeps nothing').waitFor();
    await button(page, 'save').click();
    const coming = page.waitForEvent('download');
    await button(page, 'Save the project file').click();
    expect((await coming).suggestedFilename()).toBe('Ebb mix.unclicked.zip');
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('clears what it keeps gets the open project once more', async () => {
    const { page, errors } = await built.open({ files: take });
    await words(page).first().waitFor();
    await saved(page);
    const session = await page.context().newCDPSession(page);
    await session.send('Storage.clearDataForOrigin', {
      origin: new URL(built.address()).origin,
      storageTypes: 'indexeddb',
    });
    await rename(page, 'after');
    await saved(page);
    await page.reload();
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('after');
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('has not the take of a project does not keep the project each time that it is tried', async () => {
    const { page, errors } = await built.open();
    const hash = 'a'.repeat(64);
    const file = { name: 'a.wav', hash, sampleRate: 22050, channels: 1, seconds: 1 };
    const project = JSON.stringify({ version: 1, id: 'one', name: 'Alone', take: file });
    const bare = { name: 'Alone.json', mimeType: 'application/json', buffer: Buffer.from(project) };
    for (let i = 0; i < 2; i++) {
      await give(page, [bare]);
      await page.getByText('The recording a.wav is no longer kept here').waitFor();
      await button(page, 'good').click();
    }
    await button(page, 'projects').click();
    await page.getByText('Nothing is kept in this browser yet.').waitFor();
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it('has no more room does not take away what is unsaved when the list is used', async () => {
    const { page, errors } = await built.open({
      files: take,
      prepare: (page) =>
        page.addInitScript(() => {
          const put = IDBObjectStore.prototype.put;
          IDBObjectStore.prototype.put = function (...all) {
            if (this.name === 'projects' && (window as unknown as { full: boolean }).full)
              throw new DOMException('No room.', 'QuotaExceededError');
            return put.apply(this, all);
          };
        }),
    });
    await words(page).first().waitFor();
    await saved(page);
    await page.evaluate(() => Object.assign(window, { full: true }));
    await rename(page, 'unsaved');
    await page.getByText('not saved: no room left').waitFor();
    await button(page, 'projects').click();
    await button(page, 'Ebb mix').click();
    await give(page, other);
    await page.getByText('unsaved could not be saved, so it stays open').waitFor();
    expect(await title(page).inputValue()).toBe('unsaved');
    await button(page, 'projects').click();
    await button(page, 'Copy Ebb mix').click();
    await page.getByText('The browser has no more room to keep projects').waitFor();
    await button(page, 'Delete Ebb mix').click();
    await button(page, 'close').click();
    expect(await page.getByText('is deleted').count()).toBe(0);
    await page.evaluate(() => Object.assign(window, { full: false }));
    await rename(page, 'saved at last');
    await saved(page);
    await page.reload();
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('saved at last');
    expect(errors).toEqual([]);
    await page.context().close();
  });
});
