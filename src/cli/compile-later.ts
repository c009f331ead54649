import { setFlagsFromString } from 'node:v8';

/**
 * Lets functions run long before they are compiled with optimisation (V8's own budget is a fifteenth of
 * this). In a run of about a second, whose long loops are kernels, compiling costs more than it saves: a
 * third of the processor time. A V8 that does not know the flag says so on stderr and goes on; no result changes. Node's
 * own parts that are loaded later lose their kept code by it, so it is best called late.
 */
export function compileLater(): void {
  setFlagsFromString('--interrupt-budget=1000000');
}
