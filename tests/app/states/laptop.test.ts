import { useBuiltPage } from '../built-page.ts';
import { faultsAt } from './faults-at.ts';

faultsAt(useBuiltPage(), { width: 1366, height: 768, touch: false, dark: false });
