import { registerSW } from 'virtual:pwa-register';
import type { Messages } from './messages.ts';

/** Keeps the page for the next visit without a network; a newer version takes over when the user says so. */
export function keepOffline(messages: Messages): void {
  if (!('serviceWorker' in navigator)) return;
  const update = registerSW({
    onNeedRefresh: () =>
      messages.hint('A newer version of this page is here.', {
        words: 'take it',
        run: () => void update(true),
      }),
    onOfflineReady: () => messages.say('The page works without a network now.'),
  });
}
