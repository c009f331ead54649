import { useBuiltPage } from '../built-page.ts';
import { handsAt } from './hands-at.ts';

handsAt(useBuiltPage(), { width: 1366, height: 768 }, 'finger');
