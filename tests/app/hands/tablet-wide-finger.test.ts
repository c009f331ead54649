import { useBuiltPage } from '../built-page.ts';
import { handsAt } from './hands-at.ts';

handsAt(useBuiltPage(), { width: 1180, height: 820 }, 'finger');
