/**
 * Posts every block that comes in, with the frame at which it began. That is counted: `currentFrame` stands still
 * for some blocks where the page changes the graph just then (Chromium passes over it when the graph is locked).
 */
class Recorder extends AudioWorkletProcessor {
  next = 0;
  process([input]) {
    const frame = Math.max(this.next, currentFrame);
    this.next = frame + 128;
    const channels = input.map((channel) => channel.slice());
    this.port.postMessage({ frame, channels });
    return true;
  }
}
registerProcessor('recorder', Recorder);
