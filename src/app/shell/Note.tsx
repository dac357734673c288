import type { ReactNode } from "react";
import { Icon, type IconName } from "./Icon.tsx";

type Weight = "plain" | "good" | "warn" | "stop";

const signs: Record<Weight, IconName> = { plain: "info", good: "check", warn: "warn", stop: "stop" };

/** A sentence worth reading, with a sign that says how much it matters. "stop" is read out at once. */
export function Note({ weight = "plain", children }: { weight?: Weight; children: ReactNode }) {
  return (
    <div
      className={`note ${weight === "plain" ? "" : `note-${weight}`}`}
      role={weight === "stop" ? "alert" : "note"}
    >
      <Icon name={signs[weight]} />
      <div>{children}</div>
    </div>
  );
}
