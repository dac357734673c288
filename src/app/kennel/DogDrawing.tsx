import { MEASURES, type MeasureId } from "./measures.ts";

interface Tape {
  /** Where the tape runs. */
  path: string;
  /** Where its letter sits. */
  at: [number, number];
}

const floor = 226;

const tapes: Record<MeasureId, Tape> = {
  withersM: { path: `M138 ${floor}V84`, at: [138, 60] },
  shoulderM: { path: `M98 ${floor}V130`, at: [82, 180] },
  bodyLengthM: { path: "M30 70C38 48 66 38 94 44S120 76 138 82 214 84 262 90", at: [204, 64] },
  elbowM: { path: `M153 ${floor}V154`, at: [171, 148] },
  carpusM: { path: `M164 ${floor}V194`, at: [180, 206] },
  hockM: { path: `M300 ${floor}V184`, at: [315, 206] },
};

/** A standing dog from its left side, with the six tapes; the one being measured stands out. */
export function DogDrawing({ current }: { current: MeasureId | null }) {
  return (
    <svg
      className="kennel-dog"
      viewBox="0 0 330 244"
      role="img"
      aria-label="Where the tape goes on a standing dog"
    >
      <path d={`M12 ${floor}H320`} className="kennel-dog-floor" />
      <path
        className="kennel-dog-far"
        d="M110 148l30 8-4 44-5 20q-1 6-7 6h-19q-2-7 4-9l5-4c2-22-2-44-8-63zM236 154c10 14 20 24 26 32l-6 22-4 11q-1 7-8 7h-16q-2-7 5-9l6-4 5-23c-8-10-18-22-22-34z"
      />
      <path
        className="kennel-dog-body"
        d="M30 72C32 64 44 60 58 58 62 48 72 44 82 44L89 28C91 24 96 26 96 31L99 50C108 60 122 76 138 84 164 92 214 86 262 92 276 84 288 66 292 44 293 36 302 38 301 46 298 74 286 98 272 112 280 132 280 148 272 158 280 168 290 176 292 184L282 206 278 218Q277 226 268 226H250Q248 219 256 216L262 212 266 188C250 178 236 168 230 154 206 162 176 164 152 160 150 170 148 180 147 194L143 218Q142 226 134 226H116Q114 219 121 216L127 212C128 192 124 172 118 156 108 148 102 138 100 126 94 112 88 100 80 90 68 92 52 92 40 88 32 86 29 80 30 72Z"
      />
      <path className="kennel-dog-ear" d="M87 44L93 33 96 51C93 52 89 49 87 44Z" />
      <circle cx="68" cy="61" r="3" className="kennel-dog-eye" />
      <path d="M30 73c2-5 6-7 10-7 0 5-4 9-10 9z" className="kennel-dog-eye" />
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
