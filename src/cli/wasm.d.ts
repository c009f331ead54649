/** A WebAssembly file as a data URL, put in by the build. */
declare module '*.wasm?url&inline' {
  const url: string;
  export default url;
}
