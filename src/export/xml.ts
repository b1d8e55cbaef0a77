/** A small writer of XML: elements as nested arrays of strings, attributes escaped, two spaces a level.
 * In: names, attributes, children. Out: text. It cannot write mixed content, comments or namespaces. */

export type XmlNode = {
  name: string;
  attributes: Record<string, string | number>;
  children: XmlNode[] | string;
};

/** One element. Children that are `undefined` are left out; a string or number is the element's text. */
export function el(
  name: string,
  attributes: Record<string, string | number | undefined>,
  children: readonly (XmlNode | undefined)[] | string | number = [],
): XmlNode {
  const kept: Record<string, string | number> = {};
  for (const [key, value] of Object.entries(attributes)) if (value !== undefined) kept[key] = value;
  if (typeof children === "string" || typeof children === "number")
    return { name, attributes: kept, children: String(children) };
  return { name, attributes: kept, children: children.filter((c) => c !== undefined) };
}

/** Text safe in content and in double-quoted attributes; characters that XML 1.0 forbids are dropped. */
export function escapeXml(text: string): string {
  let out = "";
  for (const char of text) {
    const code = char.codePointAt(0) ?? 0;
    const allowed =
      code === 9 ||
      code === 10 ||
      code === 13 ||
      (code >= 32 && code < 0xd800) ||
      (code > 0xdfff && code < 0xfffe) ||
      code > 0xffff;
    if (!allowed) continue;
    out += ESCAPES[char] ?? char;
  }
  return out;
}

const ESCAPES: Record<string, string> = { "&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;" };

/** The element and all below it as indented text, a line an element. */
export function writeXml(node: XmlNode): string {
  const lines: string[] = [];
  writeInto(node, "", lines);
  return `${lines.join("\n")}\n`;
}

function writeInto(node: XmlNode, indent: string, lines: string[]): void {
  let head = `${indent}<${node.name}`;
  for (const [key, value] of Object.entries(node.attributes)) head += ` ${key}="${escapeXml(String(value))}"`;
  if (typeof node.children === "string") {
    lines.push(`${head}>${escapeXml(node.children)}</${node.name}>`);
  } else if (node.children.length === 0) {
    lines.push(`${head}/>`);
  } else {
    lines.push(`${head}>`);
    for (const child of node.children) writeInto(child, `${indent}  `, lines);
    lines.push(`${indent}</${node.name}>`);
  }
}
