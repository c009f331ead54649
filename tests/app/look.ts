/**
 * Takes pictures of the built page in all its states: `npx tsx tests/app/look.ts [PAGE] [OUT]`. PAGE holds the
 * built page (dist/page), OUT the pictures (tests/app/shown); `shown/README.md` shows them. With the demo
 * take, so that they are the same each time, but for what the ear has learned since.
 */
import { mkdirSync, writeFileSync } from 'node:fs';
import { join, resolve } from 'node:path';
import type { Page } from 'playwright-core';
import { openBrowser, openPage, serveFolder } from './browser.ts';
import { firstStates, type State, states } from './states.ts';

const [folder = 'dist/page', out = 'tests/app/shown'] = process.argv.slice(2);
mkdirSync(resolve(out), { recursive: true });

/** What differs by sound alone is not pictured. */
const everything = [...firstStates, ...states]
  .filter((one) => !one.alike || one.name === 'at work')
  .map((one) => one.name);
const some = [
  'a word chosen, with the mark in it',
  'the loop plays, with the note on levels',
  'a flip',
  'listening, with the stems',
];
const views = [
  { name: 'laptop', width: 1366, height: 768, touch: false, dark: false, of: everything },
  { name: 'laptop, dark', width: 1366, height: 768, touch: false, dark: true, of: some },
  { name: 'tablet, upright', width: 820, height: 1180, touch: true, dark: false, of: some },
  { name: 'tablet, wide', width: 1180, height: 820, touch: true, dark: false, of: some },
] as const;

/** "the loop plays, with the note on levels" on a laptop is "laptop-the-loop-plays-with-the-note-on-levels". */
const fileName = (view: string, state: string) =>
  `${view} ${state}`.replaceAll(',', '').replaceAll(' ', '-');

/** A picture as WebP, which is a fifth of its size as PNG. */
async function picture(page: Page, helper: Page): Promise<Buffer> {
  const png = await page.screenshot();
  const text = await helper.evaluate(async (base64) => {
    const image = await createImageBitmap(
      await (await fetch(`data:image/png;base64,${base64}`)).blob(),
    );
    const canvas = new OffscreenCanvas(image.width, image.height);
    canvas.getContext('2d')?.drawImage(image, 0, 0);
    const blob = await canvas.convertToBlob({ type: 'image/webp', quality: 0.6 });
    return Array.from(new Uint8Array(await blob.arrayBuffer()), (byte) =>
      String.fromCharCode(byte),
    ).join('');
  }, png.toString('base64'));
  return Buffer.from(text, 'latin1');
}

async function walk(
  page: Page,
  helper: Page,
  list: readonly State[],
  view: (typeof views)[number],
) {
  for (const { name, act, leave } of list) {
    await act(page);
    if ((view.of as readonly string[]).includes(name)) {
      // What is rendered on the side (a loop, a pad's pitch) is seen once it is there.
      await page.waitForTimeout(name === 'at work' ? 600 : 300);
      writeFileSync(join(out, `${fileName(view.name, name)}.webp`), await picture(page, helper));
    }
    await leave?.(page);
  }
}

const site = await serveFolder(resolve(folder));
const browser = await openBrowser();
const helper = await browser.newPage();
for (const view of views) {
  const { page, errors } = await openPage(browser, site.address, {
    viewport: { width: view.width, height: view.height },
    hasTouch: view.touch,
    colorScheme: view.dark ? 'dark' : 'light',
    serviceWorkers: 'block',
  });
  page.setDefaultTimeout(60_000);
  if (view.of === everything) await walk(page, helper, firstStates, view);
  await page.getByRole('button', { name: 'try the demo take' }).click();
  await walk(page, helper, states, view);
  if (errors.length) console.log(view.name, errors);
  await page.context().close();
}
await browser.close();
site.close();
