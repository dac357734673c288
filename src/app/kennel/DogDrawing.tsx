import { MEASURES, type MeasureId } from "./measures.ts";

interface Tape {
  /** Ends of the tape, or a curve along the body. */
  path: string;
  /** Where the letter sits. */
  at: [number, number];
}

const floor = 214;

const tapes: Record<MeasureId, Tape> = {
  withersM: { path: `M127 ${floor}V73`, at: [127, 54] },
  shoulderM: { path: `M82 ${floor}V112`, at: [66, 158] },
  bodyLengthM: { path: "M34 73C58 52 84 60 112 66S206 78 262 84", at: [196, 56] },
  elbowM: { path: `M146 ${floor}V144`, at: [164, 150] },
  carpusM: { path: `M106 ${floor}V180`, at: [164, 192] },
  hockM: { path: `M284 ${floor}V172`, at: [302, 192] },
};

/** A standing dog from its left side, with the six tapes; the one being measured stands out. */
export function DogDrawing({ current }: { current: MeasureId | null }) {
  return (
    <svg
      className="kennel-dog"
      viewBox="0 0 330 232"
      role="img"
      aria-label="Where the tape goes on a standing dog"
    >
      <path d={`M14 ${floor}H318`} className="kennel-dog-floor" />
      <g className="kennel-dog-far">
        <path d="M112 128C116 150 112 168 110 186L104 205q-2 7 5 7h12l-2-10 4-20 8-46z" />
        <path d="M232 128c4 20 14 30 22 40l-6 20-2 14q-1 8 5 8h13l-3-10 6-32-12-44z" />
      </g>
      <g className="kennel-dog-body">
        <path d="M34 73c2-6 12-8 20-10 2-8 10-16 22-17 4-7 9-11 14-10-1 6 0 11 3 15 8 6 14 12 22 17 20 8 56 5 92 8 24 2 44 4 56 12 12-8 22-22 26-38 2-6 8-5 7 1-2 22-12 40-27 52 2 22 4 34-2 46 4 8 14 14 19 23l-4 20-2 12q-1 9-9 9h-15q-3-6 3-10l6-4 3-24c-14-12-26-24-30-42-22 8-52 10-76 6-4 14-4 26-3 40l-1 26q-1 9-8 9h-14q-3-6 4-10l5-3c-1-20-4-40-10-56-14-4-24-14-30-30-6-8-14-14-26-12-10 1-22-4-24-12-1-6-1-13-1-18z" />
        <circle cx="70" cy="60" r="3" className="kennel-dog-eye" />
        <path d="M84 50c8 0 15 7 15 19-7 2-15-2-17-9" className="kennel-dog-ear" />
      </g>
      {MEASURES.map(({ id, mark }) => {
        const tape = tapes[id];
        return (
          <g key={id} className="kennel-tape" data-current={id === current}>
            <path d={tape.path} className="kennel-tape-rim" />
            <path d={tape.path} className="kennel-tape-line" />
            <circle cx={tape.at[0]} cy={tape.at[1]} r={11} />
            <text x={tape.at[0]} y={tape.at[1] + 5}>
              {mark}
            </text>
          </g>
        );
      })}
    </svg>
  );
}
