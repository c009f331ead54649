import { useBuiltPage } from '../built-page.ts';
import { faultsAt } from './faults-at.ts';

faultsAt(useBuiltPage(), { width: 1180, height: 820, touch: true, dark: false });
