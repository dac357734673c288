import { Link } from "wouter";
import "./path-bar.css";

export const steps = [
  { id: "film", name: "Clip" },
  { id: "poles", name: "Poles" },
  { id: "landings", name: "Landings" },
  { id: "verdict", name: "Verdict" },
  { id: "report", name: "Report" },
] as const;

export type StepId = (typeof steps)[number]["id"];

interface PathBarProps {
  clipId: string;
  current: StepId;
  /** The steps that can be gone to now. */
  open: readonly StepId[];
}

/** The way through one clip, drawn as what it is about: a row of poles with a step in each gap. */
export function PathBar({ clipId, current, open }: PathBarProps) {
  return (
    <nav className="path-bar" aria-label="Steps of this clip">
      <ol>
        {steps.map((step) => (
          <li key={step.id}>
            {open.includes(step.id) ? (
              <Link
                href={`/clip/${clipId}/${step.id}`}
                aria-current={step.id === current ? "step" : undefined}
              >
                {step.name}
              </Link>
            ) : (
              <span className="path-bar-shut">{step.name}</span>
            )}
          </li>
        ))}
      </ol>
    </nav>
  );
}
