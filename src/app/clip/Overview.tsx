import { type PointerEvent, useEffect, useRef } from "react";
import type { Film } from "../film.ts";

interface OverviewProps {
  film: Film;
  /** Time of the frame on show. */
  timeS: number;
  range: [number, number] | null;
  onTime(timeS: number): void;
}

const pictures = 9;
const pictureWidthPx = 120;

/**
 * A long clip at a glance: pictures from all over it, to be gone through by finger or by key. It stops only at frames
 * that stand for themselves, which are shown at once however long the clip is.
 */
export function Overview({ film, timeS, range, onTime }: OverviewProps) {
  const { keyTimes, times } = film;
  const endS = Math.max(1e-3, times.at(-1) ?? 0);
  const place = (at: number) => `${(100 * at) / endS}%`;
  const nearest = nearestOf(keyTimes, timeS);

  const seek = (event: PointerEvent<HTMLDivElement>) => {
    const { left, width } = event.currentTarget.getBoundingClientRect();
    const share = Math.min(Math.max((event.clientX - left) / width, 0), 1);
    onTime(keyTimes[nearestOf(keyTimes, share * endS)] ?? 0);
  };
  return (
    <section className="overview" aria-label="The whole clip">
      <div
        className="overview-strip"
        onPointerDown={(event) => {
          event.currentTarget.setPointerCapture(event.pointerId);
          seek(event);
        }}
        onPointerMove={(event) => {
          if (event.currentTarget.hasPointerCapture(event.pointerId)) seek(event);
        }}
      >
        <Thumbnails film={film} />
        {range && (
          <div
            className="overview-chosen"
            style={{ left: place(range[0]), right: `calc(100% - ${place(range[1])})` }}
          />
        )}
        <div className="overview-here" style={{ left: place(timeS) }} />
      </div>
      <label>
        <span className="for-reader-only">Where in the clip</span>
        <input
          type="range"
          min={0}
          max={keyTimes.length - 1}
          value={nearest}
          aria-valuetext={clock(timeS)}
          onChange={(event) => onTime(keyTimes[Number(event.currentTarget.value)] ?? 0)}
        />
      </label>
      <p className="line-apart tiny">
        <span>{clock(timeS)}</span>
        <span className="soft">of {clock(endS)}</span>
      </p>
    </section>
  );
}

/** Drawn one after another once the picture on show has come; what is wanted meanwhile comes in between. */
function Thumbnails({ film }: { film: Film }) {
  const holder = useRef<HTMLCanvasElement>(null);
  const { reader, keyTimes, times } = film;
  const { widthPx, heightPx } = reader.facts;
  const height = Math.round((pictureWidthPx * heightPx) / widthPx);
  useEffect(() => {
    let left = false;
    const draw = async () => {
      for (let k = 0; k < pictures && !left; k++) {
        const at = ((k + 0.5) * (times.at(-1) ?? 0)) / pictures;
        const picture = await reader.picture(keyTimes[nearestOf(keyTimes, at)] ?? 0, pictureWidthPx);
        holder.current?.getContext("2d")?.drawImage(picture, k * pictureWidthPx, 0, pictureWidthPx, height);
        picture.close();
        await new Promise((done) => setTimeout(done, 150));
      }
    };
    // A picture that does not come leaves its place empty; the strip works without it.
    draw().catch(() => {});
    return () => {
      left = true;
    };
  }, [reader, keyTimes, times, height]);
  return <canvas ref={holder} width={pictures * pictureWidthPx} height={height} />;
}

function nearestOf(keyTimes: readonly number[], timeS: number): number {
  let best = 0;
  keyTimes.forEach((at, k) => {
    if (Math.abs(at - timeS) < Math.abs((keyTimes[best] ?? 0) - timeS)) best = k;
  });
  return best;
}

function clock(timeS: number): string {
  const minutes = Math.floor(timeS / 60);
  return `${minutes} min ${(timeS - 60 * minutes).toFixed(1)} s`;
}
