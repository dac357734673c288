import { loadPawNetwork, tensorsAlive } from "../../../src/paws/network.ts";
import { hostSkeleton } from "../../../src/paws/skeleton.ts";
import { rawMaps } from "./raw-maps.ts";

/** What the test calls inside the page. */
const paws = { loadPawNetwork, tensorsAlive, hostSkeleton, rawMaps };
export type PawsPage = typeof paws;

Object.assign(globalThis, { paws });
