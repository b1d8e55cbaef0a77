// The listener as a page would hold it: bundled by the test, never run in Node.
export { makeEars } from "../../src/notes/hear.js";
export { listen } from "../../src/notes/listen.js";
