/**
 * Takes pictures of the built page to be looked at: `npx tsx tests/app/look.ts [FOLDER] [NAME ...]`.
 * FOLDER holds the built page (dist/page); names choose among the scenes, all when none is given. The
 * few in tests/app/shown/ are such pictures with fewer colours.
 */
import { mkdirSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { chromium, type Page } from 'playwright-core';
import { serve } from '../../src/setup/serve.mjs';

const [folder = 'dist/page', ...wanted] = process.argv.slice(2);
const pictures = resolve('tests/app/pictures');
mkdirSync(pictures, { recursive: true });

const sizes = {
  laptop: { width: 1366, height: 768, touch: false },
  wide: { width: 1180, height: 820, touch: true },
  upright: { width: 820, height: 1180, touch: true },
} as const;

interface Scene {
  readonly name: string;
  readonly size: keyof typeof sizes;
  readonly dark?: boolean;
  readonly act: (page: Page) => Promise<void>;
}

const demo = async (page: Page) => {
  await page.getByRole('button', { name: 'try the demo take' }).click();
  await page.locator('.sheet-words .slice').first().waitFor({ timeout: 120_000 });
};
const straight = async (page: Page) => {
  await demo(page);
  await page.getByRole('button', { name: 'Line 2', exact: true }).click();
  await page.getByRole('button', { name: 'make a straight loop' }).click();
  await page.locator('.lane-word').first().waitFor();
  await page.waitForTimeout(3000);
};
const flip = async (page: Page) => {
  await straight(page);
  await page.getByRole('button', { name: 'A new flip' }).click();
  // Words too narrow for a finger are passed over, as a hand would.
  const wide = await page
    .locator('.sheet-words .slice')
    .evaluateAll((all) => all.flatMap((one, i) => (one.clientWidth > 30 ? [i] : [])));
  for (const k of [1, 4, 2, 6, 3]) {
    await page
      .locator('.sheet-words .slice')
      .nth(wide[k % wide.length] ?? 0)
      .click();
    await page.getByRole('button', { name: 'set on the lane' }).click();
  }
  await page.waitForTimeout(1500);
};
const leaf = (name: string) => async (page: Page) => {
  await straight(page);
  await page.getByRole('button', { name }).click();
};

const scenes: readonly Scene[] = [
  { name: 'empty', size: 'laptop', act: async () => {} },
  { name: 'empty-dark', size: 'laptop', dark: true, act: async () => {} },
  {
    name: 'doing',
    size: 'laptop',
    act: async (page) => {
      await page.getByRole('button', { name: 'try the demo take' }).click();
      await page.waitForTimeout(700);
    },
  },
  { name: 'heard', size: 'laptop', act: demo },
  { name: 'straight', size: 'laptop', act: straight },
  { name: 'flip', size: 'laptop', act: flip },
  { name: 'flip-dark', size: 'laptop', dark: true, act: flip },
  { name: 'wide', size: 'wide', act: flip },
  { name: 'upright', size: 'upright', act: flip },
  { name: 'upright-dark', size: 'upright', dark: true, act: straight },
  {
    name: 'playing',
    size: 'laptop',
    act: async (page) => {
      await flip(page);
      await page.getByRole('button', { name: 'loop', exact: true }).click();
      await page.locator('.head-line.on').first().waitFor();
      await page.waitForTimeout(1600);
    },
  },
  { name: 'keys', size: 'laptop', act: leaf('Keys and settings') },
  { name: 'save', size: 'laptop', act: leaf('save') },
  { name: 'listening', size: 'laptop', act: leaf('listening') },
  { name: 'projects', size: 'upright', act: leaf('projects') },
];

const { server, address } = await serve(resolve(folder));
const browser = await chromium.launch({
  executablePath: process.env.UNCLICKED_CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--autoplay-policy=no-user-gesture-required'],
});
for (const scene of scenes) {
  if (wanted.length && !wanted.includes(scene.name)) continue;
  const { width, height, touch } = sizes[scene.size];
  const context = await browser.newContext({
    viewport: { width, height },
    hasTouch: touch,
    colorScheme: scene.dark ? 'dark' : 'light',
    serviceWorkers: 'block',
  });
  const page = await context.newPage();
  page.on('console', (line) => {
    if (line.type() === 'error' || line.type() === 'warning') console.log(scene.name, line.text());
  });
  page.on('pageerror', (error) => console.log(scene.name, error.stack));
  await page.goto(address);
  await page.waitForTimeout(300);
  try {
    await scene.act(page);
  } catch (error) {
    console.log(scene.name, String(error).split('\n').slice(0, 6).join('\n'));
  }
  await page.waitForTimeout(200);
  await page.screenshot({ path: join(pictures, `${scene.name}.png`) });
  await context.close();
}
await browser.close();
server.close();
