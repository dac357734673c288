import { useCallback, useId } from "react";
import { drawLayoutPlan } from "../../charts/layout-plan.ts";
import type { Layout } from "../../spacing/types.ts";
import type { Units } from "../../store/types.ts";
import { Drawn } from "./Drawn.tsx";

/** A row of poles to scale. */
export function PlanDrawing({ layout, units }: { layout: Layout; units: Units }) {
  const id = useId();
  const draw = useCallback(
    (width: number) => drawLayoutPlan(layout, { width, units, id }),
    [layout, units, id],
  );
  return <Drawn draw={draw} />;
}
