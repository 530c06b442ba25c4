/** How numbers and short phrases are written everywhere. */

/** A number with three digits that count, or as many as asked, without trailing zeros. */
export function number(value, digits = 3) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const size = Math.abs(value);
  const text =
    size !== 0 && (size < 1e-4 || size >= 1e7) ? powerOfTen(value, digits) : String(Number(value.toPrecision(digits)));
  return text.replace("-", "−");
}

function powerOfTen(value, digits) {
  const [mantissa, exponent] = value.toExponential(digits - 1).split("e");
  const raised = String(Number(exponent)).replace(/[-\d]/g, (c) => (c === "-" ? "⁻" : "⁰¹²³⁴⁵⁶⁷⁸⁹"[c]));
  return `${Number(mantissa)} × 10${raised}`;
}

/** As the number stands in a file: all its digits, but none that come of computing. */
export const plain = (value) => String(Number(value.toPrecision(10)));

/** A number as people write it, with a point or a comma for the decimals. */
export const NUMBER = "[+\\-]?(\\d+[.,]?\\d*|[.,]\\d+)([eE][+\\-]?\\d+)?";

/** The number that a text says; `null` if it says none. */
export function parsed(text) {
  const written = text.trim().replace("−", "-");
  return new RegExp(`^${NUMBER}$`).test(written) ? Number(written.replace(",", ".")) : null;
}

/** A unit of a key as people write it. */
export function unitWords(unit) {
  const words = { C: "°C", deg: "°" }[unit] ?? unit ?? "";
  return words.replace("^2", "²").replace("^3", "³");
}

/** A text with its unit. */
export function withUnit(text, unit) {
  const words = unitWords(unit);
  return words === "" ? text : words === "°" ? `${text}°` : `${text}\u00a0${words}`;
}

/** A value with its unit. */
export const amount = (value, unit, digits) => withUnit(number(value, digits), unit);

/** A place on the chip, µm, to 10 nm. */
export const position = (um) => amount(Number(um.toFixed(2)), "µm", 7);

/** A share as per cent. */
export const percent = (share, digits = 2) => `${number(100 * share, share > 0.995 ? 3 : digits)}\u00a0%`;

/** An interval of shares. */
export const percents = (low, high) => `${percent(low).replace(/\D+$/, "")} to ${percent(high)}`;

/** A count with its noun. */
export const counted = (n, one, many) => `${n} ${n === 1 ? one : many}`;

/** First letter large. */
export const capital = (text) => text.charAt(0).toUpperCase() + text.slice(1);

/** What a dial is called where no group stands above it. */
export const dialName = (dial) => (dial.of ? `${dial.label}, ${dial.of}` : dial.label);

/** What identifies a figure: its kind and its place. */
export const figureKey = (figure) => `${figure.id}|${figure.place ?? ""}`;
