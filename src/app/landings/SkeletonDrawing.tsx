import type { Joint, JointName } from "../../paws/types.ts";
import { toScreen, type View } from "../picture/view.ts";

/** Which joints a line joins. */
const BONES: [JointName, JointName][] = [
  ["nose", "withers"],
  ["withers", "tailBase"],
  ["withers", "leftShoulder"],
  ["leftShoulder", "leftElbow"],
  ["leftElbow", "leftForePaw"],
  ["withers", "rightShoulder"],
  ["rightShoulder", "rightElbow"],
  ["rightElbow", "rightForePaw"],
  ["tailBase", "leftHip"],
  ["leftHip", "leftStifle"],
  ["leftStifle", "leftHindPaw"],
  ["tailBase", "rightHip"],
  ["rightHip", "rightStifle"],
  ["rightStifle", "rightHindPaw"],
];
/** Joints the network is less sure of are left out rather than guessed. */
const SURE = 0.2;

/** The dog's skeleton as the network sees it in this frame. */
export function SkeletonDrawing({ joints, view }: { joints: readonly Joint[]; view: View }) {
  const sure = new Map(joints.filter((j) => j.score >= SURE).map((j) => [j.name, toScreen(view, j)]));
  return (
    <g className="skeleton">
      {BONES.map(([from, to]) => {
        const a = sure.get(from);
        const b = sure.get(to);
        return a && b ? <path key={`${from}-${to}`} d={`M${a.x} ${a.y}L${b.x} ${b.y}`} /> : null;
      })}
      {[...sure].map(([name, at]) => (
        <circle key={name} cx={at.x} cy={at.y} r={2.5} />
      ))}
    </g>
  );
}
