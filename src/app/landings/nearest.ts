import type { Landing } from "../../gait/types.ts";
import type { ImagePoint } from "../../ground/types.ts";

/** The landing within reach; one that stands in this frame before one that does not. */
export function nearestLanding(
  landings: readonly Landing[],
  toFrame: (landing: Landing) => ImagePoint,
  at: ImagePoint,
  reach: number,
  timeS: number,
): Landing | null {
  let nearest: Landing | null = null;
  let best = Number.POSITIVE_INFINITY;
  for (const landing of landings) {
    const point = toFrame(landing);
    const away = Math.hypot(point.x - at.x, point.y - at.y);
    if (!(away <= reach)) continue;
    const cost = away + (timeS >= landing.onS && timeS <= landing.offS ? 0 : reach);
    if (cost < best) {
      best = cost;
      nearest = landing;
    }
  }
  return nearest;
}
