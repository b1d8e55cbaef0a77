/** XML text → a tree of elements, each with its line and column. In: the text of a file. Out: the root element.
 * A small reader of its own because a music file needs places in its errors and nothing else of XML: no DTD is read, no entity but the five of XML and
 * character numbers exists, nothing is fetched. A document type with declarations of its own is refused, and so is one that is not MusicXML's.
 * Source: W3C XML 1.0 (fifth edition), the parts that MusicXML files use. Cannot: validate against a schema; namespaces are part of the name. */
import { PulgarError } from "../base/errors.js";

export type XmlElement = {
  name: string;
  attributes: Record<string, string>;
  children: XmlElement[];
  text: string;
  line: number;
  column: number;
};

/** Bounds: deeper or larger trees are no music. */
const XML_BOUNDS = Object.freeze({
  characters: 64 * 1024 * 1024,
  elements: 4_000_000,
  depth: 64,
  attributes: 100,
});

const ENTITIES: Record<string, string> = { lt: "<", gt: ">", amp: "&", quot: '"', apos: "'" };
const NAME = /[A-Za-z_:][-A-Za-z0-9._:]*/y;
const SPACE = /[ \t\r\n]*/y;

/** @throws PulgarError "bad-xml" with line and column, "too-large" */
export function readXml(source: string): XmlElement {
  if (source.length > XML_BOUNDS.characters)
    throw new PulgarError("too-large", `${source.length} characters of XML`, "Split the score into pieces.");
  const text = source.replace(/^\uFEFF/, "");
  let idx = 0;
  let elementCount = 0;
  let lineCount = 1; // lines before `counted`
  let counted = 0;
  let lineStart = 0;
  const placeOf = (at: number): { line: number; column: number } => {
    if (at < counted) {
      lineCount = 1;
      counted = 0;
      lineStart = 0;
    }
    for (let nl = text.indexOf("\n", counted); nl >= 0 && nl < at; nl = text.indexOf("\n", counted)) {
      lineCount++;
      counted = nl + 1;
      lineStart = counted;
    }
    return { line: lineCount, column: at - lineStart + 1 };
  };
  const fail = (
    at: number,
    message: string,
    hint = "Save the file again in the program that made it.",
  ): never => {
    const { line, column } = placeOf(at);
    throw new PulgarError("bad-xml", `line ${line}, column ${column}: ${message}`, hint);
  };
  const skipTo = (mark: string, what: string): void => {
    const end = text.indexOf(mark, idx);
    if (end < 0) fail(idx, `${what} that does not end`);
    idx = end + mark.length;
  };
  const nameAt = (): string => {
    NAME.lastIndex = idx;
    const match = NAME.exec(text);
    if (!match) return fail(idx, `found ${found(text, idx)} where a name should stand`);
    idx += match[0].length;
    return match[0];
  };
  const skipSpace = (): boolean => {
    SPACE.lastIndex = idx;
    const length = SPACE.exec(text)?.[0].length ?? 0;
    idx += length;
    return length > 0;
  };
  const plain = (raw: string, at: number): string =>
    raw.includes("&")
      ? raw.replace(/&([^;&\s]{0,12});?/g, (whole, name: string, offset: number) => {
          const code = /^#(?:x([0-9a-fA-F]{1,6})|(\d{1,7}))$/.exec(name);
          const point = code ? (code[1] ? Number.parseInt(code[1], 16) : Number(code[2])) : undefined;
          const isPoint =
            point !== undefined && point > 0 && point <= 0x10ffff && !(point >= 0xd800 && point < 0xe000);
          if (whole.endsWith(";") && isPoint) return String.fromCodePoint(point);
          const known = whole.endsWith(";") && Object.hasOwn(ENTITIES, name) ? ENTITIES[name] : undefined;
          return (
            known ??
            fail(
              at + offset,
              `${whole}: only &lt; &gt; &amp; &quot; &apos; and numbers are read`,
              "Write the character itself.",
            )
          );
        })
      : raw;

  const doctype = (): void => {
    const start = idx;
    const end = text.indexOf(">", idx);
    const head = text.slice(idx, end < 0 ? idx + 400 : end + 1);
    if (head.includes("[") || end < 0)
      fail(
        start,
        "the document type declares things of its own; such files are not read",
        "Take the <!DOCTYPE …> line out.",
      );
    const isMusic =
      /^<!DOCTYPE\s+(score-partwise|score-timewise|container)(\s+PUBLIC\s+["']-\/\/Recordare\/\/DTD [^"']*["']\s+["'][^"']*["'])?\s*>$/.test(
        head,
      );
    if (!isMusic)
      fail(
        start,
        "the document type points to something that is not MusicXML's; it is not read",
        "Take the <!DOCTYPE …> line out.",
      );
    idx = end + 1;
  };

  const stack: XmlElement[] = [];
  let root: XmlElement | undefined;
  while (idx < text.length) {
    const open = text.indexOf("<", idx);
    const chunk = text.slice(idx, open < 0 ? text.length : open);
    const top = stack.at(-1);
    if (top) top.text += plain(chunk, idx);
    else if (chunk.trim() !== "")
      fail(
        idx + chunk.search(/\S/),
        `found ${found(text, idx + chunk.search(/\S/))} outside of the document`,
      );
    if (open < 0) break;
    idx = open;
    if (text.startsWith("<!--", idx)) {
      skipTo("-->", "a comment");
    } else if (text.startsWith("<![CDATA[", idx)) {
      const end = text.indexOf("]]>", idx);
      if (end < 0 || !top) fail(idx, "a CDATA section out of place");
      if (top) top.text += text.slice(idx + 9, end);
      idx = end + 3;
    } else if (text.startsWith("<?", idx)) {
      skipTo("?>", "an instruction");
    } else if (text.startsWith("<!DOCTYPE", idx)) {
      if (root || stack.length > 0) fail(idx, "a document type out of place");
      doctype();
    } else if (text.startsWith("<!", idx)) {
      fail(idx, `found ${found(text, idx)}; declarations are not read`, "Take it out.");
    } else if (text.startsWith("</", idx)) {
      const at = idx;
      idx += 2;
      const name = nameAt();
      skipSpace();
      if (text.charAt(idx) !== ">") fail(idx, `found ${found(text, idx)} where > should stand`);
      idx++;
      const closed = stack.pop();
      if (!closed) return fail(at, `</${name}> closes nothing`);
      if (closed.name !== name)
        fail(at, `</${name}> stands where </${closed.name}> of line ${closed.line} should`);
    } else {
      const at = idx;
      idx++;
      const name = nameAt();
      const element: XmlElement = { name, attributes: {}, children: [], text: "", ...placeOf(at) };
      if (++elementCount > XML_BOUNDS.elements) fail(at, "more elements than any score has");
      for (let count = 0; ; count++) {
        const hadSpace = skipSpace();
        const char = text.charAt(idx);
        if (char === ">" || text.startsWith("/>", idx)) break;
        if (!hadSpace || count > XML_BOUNDS.attributes)
          fail(idx, `found ${found(text, idx)} inside <${name}>`);
        const attribute = nameAt();
        skipSpace();
        if (text.charAt(idx) !== "=") fail(idx, `found ${found(text, idx)} where = should stand`);
        idx++;
        skipSpace();
        const quote = text.charAt(idx);
        const end = quote === '"' || quote === "'" ? text.indexOf(quote, idx + 1) : -1;
        if (end < 0) fail(idx, `the value of ${attribute} is not in quotes`);
        element.attributes[attribute] = plain(text.slice(idx + 1, end), idx + 1);
        idx = end + 1;
      }
      if (top) top.children.push(element);
      else if (root) fail(at, `a second root <${name}>`);
      else root = element;
      if (text.startsWith("/>", idx)) idx += 2;
      else {
        idx++;
        stack.push(element);
        if (stack.length > XML_BOUNDS.depth) fail(at, "elements inside elements deeper than any score has");
      }
    }
  }
  const unclosed = stack.at(-1);
  if (unclosed)
    fail(
      text.length,
      `the file ends inside <${unclosed.name}> of line ${unclosed.line}`,
      "Is the file complete?",
    );
  if (!root) return fail(0, "there is no XML in this file");
  return root;
}

const found = (text: string, idx: number): string =>
  idx < text.length ? `"${text.slice(idx, idx + 20).replace(/\s+/g, " ")}"` : "the end of the file";

/** The first child of a name. */
export const child = (element: XmlElement | undefined, name: string): XmlElement | undefined =>
  element?.children.find((c) => c.name === name);
/** All children of a name. */
export const childrenOf = (element: XmlElement | undefined, name: string): XmlElement[] =>
  element?.children.filter((c) => c.name === name) ?? [];
/** Trimmed text of a child; undefined when it is not there. */
export const childText = (element: XmlElement | undefined, name: string): string | undefined =>
  child(element, name)?.text.trim();
/** Number in a child; undefined when it is not there or no number. */
export function childNumber(element: XmlElement | undefined, name: string): number | undefined {
  const text = childText(element, name);
  if (text === undefined || !/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text)) return undefined;
  return Number(text);
}
