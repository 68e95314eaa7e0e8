// How late is a take against what was played to it? As late as its chirp, where one is heard in it.
//
// The chirp is looked for by its likeness (cross-correlation), first among every few frames, then
// among all. The server's own search is finer (halfstep/listen/chirps.py); this one is for the ear,
// when a take is played over its band.

const EARLIEST_S = -0.1;
const LATEST_S = 0.6;
const COARSE_HZ = 16000;
const CLEAR = 6; // times as like as other places on the whole

function thinned(sound, step) {
  return Float32Array.from({ length: Math.floor(sound.length / step) }, (_, place) => {
    let sum = 0;
    for (let next = place * step; next < (place + 1) * step; next++) sum += sound[next];
    return sum / step;
  });
}

function likenesses(sound, chirp, first, last) {
  const likes = new Float32Array(Math.max(0, last - first + 1));
  for (let lag = first; lag <= last; lag++) {
    let sum = 0;
    for (let place = 0; place < chirp.length; place++) sum += (sound[lag + place] ?? 0) * chirp[place];
    likes[lag - first] = Math.abs(sum);
  }
  return likes;
}

const greatest = (likes) => likes.reduce((best, like, place) => (like > likes[best] ? place : best), 0);

// Seconds by which a chirp comes later in a sound than it was meant to; null where none is clear.
//
// `sound` and `chirp` are frames, `meant_s` is where in the sound it was meant to begin.
export function delayOf(sound, rate, chirp, meant_s) {
  const step = Math.max(1, Math.floor(rate / COARSE_HZ));
  const frame = (seconds, hz) => Math.max(0, Math.round((meant_s + seconds) * hz));
  const [from, to] = [frame(EARLIEST_S, rate), frame(LATEST_S, rate) + chirp.length];
  const coarse = likenesses(thinned(sound.subarray(from, to), step), thinned(chirp, step), 0, Math.floor((to - from - chirp.length) / step));
  if (!coarse.length) return null;
  const near = greatest(coarse);
  const usual = Math.sqrt(coarse.reduce((sum, like) => sum + like * like, 0) / coarse.length);
  if (!(coarse[near] > CLEAR * usual)) return null;
  const first = Math.max(0, from + (near - 1) * step);
  const fine = likenesses(sound, chirp, first, first + 2 * step);
  return (first + greatest(fine)) / rate - meant_s;
}
