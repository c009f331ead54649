import { registerSW } from 'virtual:pwa-register';
import type { Messages } from './messages.ts';

/**
 * Keeps the page for the next visit without a network; a newer version takes over when the user says so. It
 * takes over in every window, but only the one in which that was said begins anew: in the others somebody
 * may be at work, whose steps back would be gone.
 */
export function keepOffline(messages: Messages, save: () => Promise<void>): void {
  if (!('serviceWorker' in navigator)) return;
  let taken = false;
  const anew = () => location.reload();
  /** A window that was opened before there was any worker is not told when another takes over. */
  const anewWhenThere = async () => {
    const waiting = (await navigator.serviceWorker.getRegistration())?.waiting;
    waiting?.addEventListener('statechange', () => {
      if (waiting.state === 'activated') anew();
    });
    await update();
  };
  const update = registerSW({
    onNeedRefresh: () =>
      messages.hint('A newer version of this page is here.', {
        words: 'take it',
        run: () => {
          taken = true;
          void save().then(anewWhenThere);
        },
      }),
    onNeedReload: () => {
      if (taken) return anew();
      messages.hint(
        'Another window has taken a newer version of this page; load it here too when it suits you.',
        { words: 'load it', run: () => void save().then(anew) },
      );
    },
    onOfflineReady: () => messages.say('The page works without a network now.'),
  });
}
