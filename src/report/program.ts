import { version } from "../../package.json";

/** The program and its version, as written into every export. */
export const PROGRAM = `Pawgap ${version}`;
