import { useCallback, useEffect, useState } from "react";
import { Icon } from "./Icon.tsx";
import "./scrubber.css";

interface ScrubberProps {
  /** Times of all frames, seconds, rising. */
  times: readonly number[];
  frame: number;
  onFrame(frame: number): void;
  /** Offer to play, at a quarter of the speed. */
  playable?: boolean | undefined;
  /** True while the frame asked for is not shown yet: playing waits for it. */
  waiting?: boolean | undefined;
}

const slowness = 4;

/** Goes through a clip frame by frame: a slider, a frame back and on, and playing at quarter speed. */
export function Scrubber({ times, frame, onFrame, playable, waiting }: ScrubberProps) {
  const [playing, setPlaying] = useState(false);
  const last = times.length - 1;

  useEffect(() => {
    if (!playing || waiting) return;
    if (frame >= last) {
      setPlaying(false);
      return;
    }
    const stay = ((times[frame + 1] ?? 0) - (times[frame] ?? 0)) * 1000 * slowness;
    const timer = setTimeout(() => onFrame(frame + 1), stay);
    return () => clearTimeout(timer);
  }, [playing, waiting, frame, last, times, onFrame]);

  const go = useCallback(
    (to: number) => {
      setPlaying(false);
      onFrame(Math.min(Math.max(to, 0), last));
    },
    [onFrame, last],
  );

  // The arrow keys go frame by frame from anywhere on the screen but where they mean something else.
  useEffect(() => {
    const onKey = (event: KeyboardEvent) => {
      const by = event.key === "ArrowLeft" ? -1 : event.key === "ArrowRight" ? 1 : 0;
      if (by === 0 || event.shiftKey || event.altKey || event.ctrlKey || event.metaKey) return;
      if ((event.target as Element).closest("input, select, textarea, [role=application]")) return;
      event.preventDefault();
      go(frame + by);
    };
    window.addEventListener("keydown", onKey);
    return () => window.removeEventListener("keydown", onKey);
  }, [go, frame]);
  return (
    <div className="scrubber">
      <button
        type="button"
        className="button button-icon"
        aria-label="One frame back"
        onClick={() => go(frame - 1)}
      >
        <Icon name="frame-back" />
      </button>
      {playable && (
        <button
          type="button"
          className="button button-icon"
          aria-label={playing ? "Pause" : "Play at quarter speed"}
          onClick={() => {
            if (!playing && frame >= last) onFrame(0);
            setPlaying(!playing);
          }}
        >
          <Icon name={playing ? "pause" : "play"} />
        </button>
      )}
      <button
        type="button"
        className="button button-icon"
        aria-label="One frame on"
        onClick={() => go(frame + 1)}
      >
        <Icon name="frame-on" />
      </button>
      <label className="scrubber-slider">
        <span className="for-reader-only">Frame</span>
        <input
          type="range"
          min={0}
          max={Math.max(0, last)}
          value={frame}
          aria-valuetext={`frame ${frame + 1} of ${last + 1}, ${(times[frame] ?? 0).toFixed(2)} seconds`}
          onChange={(event) => go(Number(event.currentTarget.value))}
        />
      </label>
      <output className="scrubber-time tiny">
        {(times[frame] ?? 0).toFixed(2)} s
        <br />
        <span className="soft">
          {frame + 1}/{last + 1}
        </span>
      </output>
    </div>
  );
}
