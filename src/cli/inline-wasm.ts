/** A WebAssembly module that lies in the command as text (a data URL). */
export function moduleFrom(url: string): WebAssembly.Module {
  return new WebAssembly.Module(Buffer.from(url.slice(url.indexOf(',') + 1), 'base64'));
}
