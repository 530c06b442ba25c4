/** Colours of maps and powders: those of the report. */

/** What is bare: apart from every colour of the scale. */
export const BARE = [17, 19, 24];
/** Where the map does not reach. */
export const BEYOND = "#2a2e34";
/** The frame around what is drawn larger beside the map. */
export const FRAME = "#f2a24b";

/** The scale, even to the eye and readable without colour vision, at even steps. */
const SCALE =
  "440154 481769 472a7a 433d84 3d4e8a 355e8d 2e6d8e 297b8e 23898e 1f978b 21a585 2eb37c 46c06f 65cb5e 89d548 b0dd2f d8e219 fde725"
    .split(" ")
    .map((hex) => [0, 2, 4].map((at) => parseInt(hex.slice(at, at + 2), 16)));
/** Its darkest part is left out, for contrast to what is bare. */
const FIRST = 0.1;

/** Powders by number: sand, blue, green, magenta, violet, grey. */
const TINTS = [
  [245, 226, 176],
  [80, 160, 240],
  [32, 168, 96],
  [208, 72, 192],
  [120, 88, 240],
  [168, 168, 172],
];

/** Colour of a share of the scale, 0 to 1. */
export function colour(share) {
  const at = (FIRST + (1 - FIRST) * Math.min(1, Math.max(0, share))) * (SCALE.length - 1);
  const low = Math.min(Math.floor(at), SCALE.length - 2);
  return SCALE[low].map((c, i) => Math.round(c + (at - low) * (SCALE[low + 1][i] - c)));
}

/** Colour of a powder. */
export const tint = (powder) => TINTS[powder % TINTS.length];

/** As style sheets write it. */
export const css = ([r, g, b]) => `rgb(${r} ${g} ${b})`;

/** The scale as a background, from left to right. */
export const gradient = () =>
  `linear-gradient(to right, ${[...Array(11).keys()].map((k) => css(colour(k / 10))).join(", ")})`;

/** Black or white, whichever is read on a colour. */
export const inkOn = ([r, g, b]) => (0.299 * r + 0.587 * g + 0.114 * b > 140 ? "#000" : "#fff");

/** Where a value stands on a scale from 0 to `top`, 0 to 1; on a logarithmic one from `top` / 10 000. */
export function place(value, top, isLog) {
  if (!(top > 0) || !(value > 0)) return 0;
  return isLog ? 1 + Math.log10(value / top) / DECADES : value / top;
}

/** Share of the scale up to which a pixel is drawn as bare. */
export const FAINTEST = 0.004;

/** Decades of a logarithmic scale. */
export const DECADES = 4;
