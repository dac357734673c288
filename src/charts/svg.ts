/** Finished markup. Everything that is not Markup is text and gets escaped. */
export class Markup {
  constructor(readonly text: string) {}
  toString(): string {
    return this.text;
  }
}

export type Child = Markup | string | number | null | undefined | false | Child[];
export type Attributes = Record<string, string | number | null | undefined | false>;

const ESCAPES: Record<string, string> = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};

/** HTML elements that have no closing tag. */
const VOID = new Set(["br", "col", "hr", "img", "link", "meta"]);

/** Text made safe for element content and quoted attributes; characters that XML forbids are dropped. */
export function escapeText(text: string): string {
  return text
    .replace(/[^\t\n\r\u0020-\uD7FF\uE000-\uFFFD\u{10000}-\u{10FFFF}]/gu, "")
    .replace(/[&<>"']/g, (character) => ESCAPES[character] ?? "");
}

/** Two decimals are a fiftieth of a pixel in print, and keep files small and snapshots stable. */
function attributeText(value: string | number): string {
  return typeof value === "number" ? String(Math.round(value * 100) / 100 + 0) : escapeText(value);
}

function childText(child: Child): string {
  if (child === null || child === undefined || child === false) return "";
  if (child instanceof Markup) return child.text;
  if (Array.isArray(child)) return child.map(childText).join("");
  return escapeText(String(child));
}

/** One SVG or HTML element. Attributes that are null, undefined or false are left out. */
export function element(name: string, attributes: Attributes = {}, ...children: Child[]): Markup {
  const written = Object.entries(attributes)
    .filter((entry): entry is [string, string | number] => {
      const value = entry[1];
      return value !== null && value !== undefined && value !== false;
    })
    .map(([key, value]) => ` ${key}="${attributeText(value)}"`)
    .join("");
  if (VOID.has(name)) return new Markup(`<${name}${written}>`);
  return new Markup(`<${name}${written}>${children.map(childText).join("")}</${name}>`);
}

/** Elements and text one after another. */
export function together(...children: Child[]): Markup {
  return new Markup(children.map(childText).join(""));
}
