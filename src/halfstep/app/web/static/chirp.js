// A short soft chirp that is played before the count-in of a take and after its last bar. Found
// again in the recording, the two tell how much later it is than what was played.
// Formula and figures are those of halfstep/listen/chirps.py.

export const CHIRP_S = 0.25;
export const LOW_HZ = 500;
export const HIGH_HZ = 6000;
export const PEAK = 0.1;

// From the beginning of the first chirp to the count-in, and from the end of the last bar to the
// second chirp, when the band has died away.
export const CHIRP_LEAD_S = 0.6;
export const CHIRP_TAIL_S = 0.5;
// So long a recording goes on after its second chirp begins: a late one is still in it.
export const CHIRP_REST_S = 1.25;

const buffers = new WeakMap();

export function chirpSamples(rate) {
  const ratio = HIGH_HZ / LOW_HZ;
  return Float32Array.from({ length: Math.round(CHIRP_S * rate) + 1 }, (_, place) => {
    const along = place / (CHIRP_S * rate);
    const turns = (LOW_HZ * CHIRP_S * (ratio ** along - 1)) / Math.log(ratio);
    return PEAK * Math.sin(Math.PI * along) ** 2 * Math.sin(2 * Math.PI * turns);
  });
}

function bufferOf(context) {
  if (!buffers.has(context)) {
    const samples = chirpSamples(context.sampleRate);
    const buffer = context.createBuffer(1, samples.length, context.sampleRate);
    buffer.copyToChannel(samples, 0);
    buffers.set(context, buffer);
  }
  return buffers.get(context);
}

// Plays a chirp at a time of the context, and gives the time when it begins: that one, or now.
export function playChirp(context, at, into = context.destination) {
  const source = context.createBufferSource();
  source.buffer = bufferOf(context);
  source.connect(into);
  const begins = Math.max(at, context.currentTime);
  source.start(begins);
  return begins;
}
