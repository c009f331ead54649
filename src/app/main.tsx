import { render } from 'solid-js/web';
import { createSound } from '../sound/create-sound.ts';
import { createSettings } from '../store/settings.ts';
import { createDesk } from '../work/desk.ts';
import { Page } from './page/page.tsx';

const root = document.getElementById('page');
if (!root) throw new Error('The page has no place to stand in.');

// What is drawn takes its colours from the style sheet, and WebKit does not hold modules back until that is there.
if (document.readyState !== 'complete')
  await new Promise((loaded) => addEventListener('load', loaded, { once: true }));

render(() => {
  const settings = createSettings();
  const desk = createDesk(settings);
  const sound = createSound(settings);
  return <Page desk={desk} sound={sound} settings={settings} />;
}, root);
