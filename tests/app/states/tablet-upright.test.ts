import { useBuiltPage } from '../built-page.ts';
import { faultsAt } from './faults-at.ts';

faultsAt(useBuiltPage(), { width: 820, height: 1180, touch: true, dark: true });
