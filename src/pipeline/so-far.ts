import { findLandings } from "../gait/landings.ts";
import type { Pass } from "../gait/types.ts";
import type { GroundMap } from "../ground/types.ts";
import { gatherEvidence, type Sights } from "./evidence.ts";

/** New looks of the dog between two tellings. */
const LOOKS_BETWEEN = 2;
/** At most this share of the time is spent on telling. */
const SHARE_OF_TIME = 0.08;

/**
 * Tells the landings found so far while a clip is still being looked through, from the network's marks alone. Called
 * after each look; says something only now and then.
 */
export function landingsSoFar(map: GroundMap, tell: (passes: Pass[]) => void): (sights: Sights) => void {
  let told = 0;
  let restUntil = 0;
  return (sights) => {
    const dogs = sights.looks.filter((look) => look.sighting !== null).length;
    const begun = performance.now();
    if (dogs - told < LOOKS_BETWEEN || begun < restUntil) return;
    told = dogs;
    const { passes } = findLandings(gatherEvidence(sights, map), true);
    const now = performance.now();
    restUntil = now + (now - begun) / SHARE_OF_TIME;
    if (passes.length > 0) tell(passes);
  };
}
