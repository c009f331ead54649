/** Posts every block that comes in, with the frame at which it began. */
class Recorder extends AudioWorkletProcessor {
  process([input]) {
    const channels = input.map((channel) => channel.slice());
    this.port.postMessage({ frame: currentFrame, channels });
    return true;
  }
}
registerProcessor('recorder', Recorder);
