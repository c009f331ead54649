import type { Page } from 'playwright-core';

/**
 * Waits until a pass is counted in and taken down. Counting in may be over before a slow page tells of it here, so
 * what was said is looked for in the page itself.
 */
export async function untilCountedIn(page: Page, begin: () => Promise<unknown>): Promise<void> {
  await page.evaluate(() => {
    const said = new Set<string>();
    new MutationObserver(() => {
      const now = document.querySelector('.versions-deeds [aria-pressed="true"]');
      said.add(now?.textContent ?? '');
    }).observe(document.body, {
      subtree: true,
      childList: true,
      characterData: true,
      attributes: true,
    });
    Object.assign(window, { said });
  });
  await begin();
  await page.waitForFunction(() =>
    (window as unknown as { said: Set<string> }).said.has('counting in …'),
  );
  await page.getByRole('button', { name: 'play it in', exact: true, pressed: true }).waitFor();
}
