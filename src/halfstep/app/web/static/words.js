// The words of the scripts in the language of the page. English stands in the scripts; what stands
// for it in another language comes with the page.

const texts = JSON.parse(document.getElementById("script-words")?.textContent ?? "{}");

const { lang } = document.documentElement;

// In which days and hours are written: as the page speaks; of one in English, as its reader does.
export const locale = !lang || lang === "en" ? [] : lang;

// What is put into a text is isolated: it keeps its own direction, and leaves that of the text alone.
const isolated = (value) => (typeof value === "string" && lang && lang !== "en" ? `\u2068${value}\u2069` : value);

// `values` fill places such as %(tempo)s.
export function gettext(text, values = {}) {
  return (texts[text] ?? text).replace(/%\((\w+)\)s/g, (place, name) => isolated(values[name]));
}
