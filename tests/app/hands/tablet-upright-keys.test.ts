import { useBuiltPage } from '../built-page.ts';
import { keysAt } from './keys-at.ts';

keysAt(useBuiltPage(), { width: 820, height: 1180 });
