/** Two short falling tones that mean stop; nothing where the phone has no sound. */
let context: AudioContext | null = null;

export function soundStop(): void {
  try {
    context ??= new AudioContext();
    tone(context, 660, 0);
    tone(context, 440, 0.18);
  } catch {
    // A phone without sound still shows the word and the shape.
  }
}

function tone(on: AudioContext, hertz: number, after: number): void {
  const [source, loudness, at] = [on.createOscillator(), on.createGain(), on.currentTime + after];
  source.frequency.value = hertz;
  loudness.gain.setValueAtTime(0.25, at);
  loudness.gain.exponentialRampToValueAtTime(0.001, at + 0.16);
  source.connect(loudness).connect(on.destination);
  source.start(at);
  source.stop(at + 0.17);
}
