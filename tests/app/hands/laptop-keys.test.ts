import { useBuiltPage } from '../built-page.ts';
import { keysAt } from './keys-at.ts';

keysAt(useBuiltPage(), { width: 1366, height: 768 });
