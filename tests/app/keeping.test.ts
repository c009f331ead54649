import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** What a user made must not be lost: by a second window, by a full or cleared store, by something else opened. */
const built = useBuiltPage();
const take = shortTake().slice(0, 1);

const words = (page: Page) => page.locator('.sheet-words .slice');
const title = (page: Page) => page.getByRole('textbox', { name: 'Name of the project' });
const button = (page: Page, name: string | RegExp) =>
  page.getByRole('button', { name, exact: true });
const rename = async (page: Page, name: string) => {
  await title(page).fill(name);
  await title(page).press('Enter');
};
const give = async (page: Page, files: typeof take) => {
  const choosing = page.waitForEvent('filechooser');
  await button(page, 'open').click();
  await (await choosing).setFiles(files);
};

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
    await words(page).first().waitFor();
    expect(await title(page).inputValue()).toBe('Ebb mix');
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
