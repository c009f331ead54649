import { setFlagsFromString } from 'node:v8';

/** Fifteen times what V8 starts from, by the name that its versions have for it: an unknown one is said on stderr. */
const bytesRun = ['--interrupt-budget=1000000'];
const calls = ['--invocation-count-for-maglev=6000', '--invocation-count-for-turbofan=45000'];
/** By V8's major version: 11 is Node 20 and 21, 12 to 14 are Node 22 to 26. */
const flagsOf: Readonly<Record<string, readonly string[]>> = {
  11: bytesRun,
  12: calls,
  13: calls,
  14: calls,
};

/**
 * Lets functions run long before they are compiled with optimisation. In a run of about a second, whose long
 * loops are kernels, compiling costs more than it saves: a third of the processor time. A V8 that is not
 * known is left as it is; no result changes. Node's own parts that are loaded later lose their kept code by it, so
 * it is best called late.
 */
export function compileLater(): void {
  const [major = ''] = process.versions.v8.split('.');
  for (const flag of flagsOf[major] ?? []) setFlagsFromString(flag);
}
