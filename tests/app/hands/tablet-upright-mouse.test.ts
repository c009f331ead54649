import { useBuiltPage } from '../built-page.ts';
import { handsAt } from './hands-at.ts';

handsAt(useBuiltPage(), { width: 820, height: 1180 }, 'mouse');
