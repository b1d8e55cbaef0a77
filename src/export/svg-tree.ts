/** Reads the SVG that the engraver writes into plain elements: enough of XML for that, not for any SVG. */

export type SvgElement = {
  name: string;
  attributes: Record<string, string>;
  children: SvgElement[];
  text: string;
};

/** Elements of an SVG text; comments, declarations and blank text are dropped. */
export function parseSvg(source: string): SvgElement {
  const root: SvgElement = { name: "", attributes: {}, children: [], text: "" };
  const open = [root];
  const token =
    /<!--[\s\S]*?-->|<\?[\s\S]*?\?>|<![^>]*>|<\/([^\s>]+)\s*>|<([^\s/>]+)((?:\s+[^\s=>/]+\s*=\s*"[^"]*")*)\s*(\/?)>|([^<]+)/g;
  for (const match of source.matchAll(token)) {
    const [, closing, opening, attributeText, selfClosed, text] = match;
    const parent = open.at(-1) ?? root;
    if (closing !== undefined) {
      if (open.length > 1) open.pop();
    } else if (opening !== undefined) {
      const attributes: Record<string, string> = {};
      for (const [, key, value] of (attributeText ?? "").matchAll(/([^\s=]+)\s*=\s*"([^"]*)"/g))
        if (key !== undefined && value !== undefined) attributes[key] = value;
      const element: SvgElement = { name: opening, attributes, children: [], text: "" };
      parent.children.push(element);
      if (!selfClosed) open.push(element);
    } else if (text?.trim()) parent.text += text.trim();
  }
  return root;
}

/** All elements below (and with) `element`, in document order, with the classes of their ancestors. */
export function* walkSvg(
  element: SvgElement,
  ancestors: readonly SvgElement[] = [],
): Generator<{ element: SvgElement; ancestors: readonly SvgElement[] }> {
  yield { element, ancestors };
  const inner = [...ancestors, element];
  for (const child of element.children) yield* walkSvg(child, inner);
}

/** Does the element carry the class? */
export const hasClass = (element: SvgElement, name: string): boolean =>
  (element.attributes.class ?? "").split(/\s+/).includes(name);
