import { Icon } from "../shell/Icon.tsx";
import type { ZoomControl } from "./Stage.tsx";

/** Closer by a step. */
const step = 1.6;

/** For those who can't pinch: one hand, or a mouse without a wheel. */
export function ZoomButtons({ control }: { control: ZoomControl }) {
  return (
    <>
      <button type="button" aria-label="Closer" onClick={() => control.zoom(step)}>
        <Icon name="zoom-in" />
      </button>
      <button
        type="button"
        aria-label="Whole picture"
        disabled={control.magnification < 1.01}
        onClick={control.fit}
      >
        <Icon name="fit" />
      </button>
    </>
  );
}
