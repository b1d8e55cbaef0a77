/** Odd music, or something the user should know: a value, never an exception.
 * @property rule a stable kebab-case name of the check that spoke
 * @property bar bar number from 1; 0 when it concerns the whole take */
export type Finding = {
  rule: string;
  level: "error" | "warning" | "note";
  bar: number;
  message: string;
  hint: string;
};
