import { useBuiltPage } from '../built-page.ts';
import { keysAt } from './keys-at.ts';

keysAt(useBuiltPage(), { width: 1180, height: 820 });
