import {
  type KeyboardEvent,
  type PointerEvent,
  type ReactNode,
  useCallback,
  useEffect,
  useLayoutEffect,
  useRef,
  useState,
} from "react";
import type { ImagePoint } from "../../ground/types.ts";
import { Loupe } from "./Loupe.tsx";
import "./stage.css";
import {
  bringInto,
  fitPart,
  fitView,
  type Part,
  pan,
  pinch,
  type Size,
  toImage,
  type View,
  zoomAt,
} from "./view.ts";

/** What a finger on the picture has taken hold of. */
export interface Grip {
  move(to: ImagePoint): void;
  release(at: ImagePoint): void;
  cancel(): void;
}

interface StageProps {
  /** What to show; null while the frame is on its way. */
  bitmap: ImageBitmap | null;
  /** Size of the upright picture in image pixels; the bitmap may be smaller. */
  picture: Size;
  label: string;
  /**
   * One finger or the left button went down: what it took hold of, or null to move the picture. `reach` is how far it
   * may miss what it means, image pixels.
   */
  press?: ((at: ImagePoint, reach: number) => Grip | null) | undefined;
  /** The point that the loupe shows while something is held; null hides it. */
  loupeAt?: ImagePoint | null | undefined;
  /** Drawn over the picture in screen pixels. */
  overlay?: ((view: View, box: Size) => ReactNode) | undefined;
  /** Drawn inside the loupe in image pixels. */
  loupeOverlay?: ReactNode;
  onKeyDown?: ((event: KeyboardEvent) => void) | undefined;
  /** What to show first; the whole picture when left out. */
  first?: Part | null | undefined;
  /** Set to bring a point (image) into sight. */
  follow?: ImagePoint | null | undefined;
  /** Buttons that lie on the picture; gets the means to zoom. */
  children?: ((view: ZoomControl) => ReactNode) | undefined;
}

export interface ZoomControl {
  zoom(factor: number): void;
  fit(): void;
  /** Shown scale against the whole picture, 1 = whole picture. */
  magnification: number;
}

/** How far from the point it means a finger or a mouse lands, CSS pixels. */
const fingerReach = { touch: 12, mouse: 9, pen: 9 };

/** A picture to zoom, move and touch. Pinch or wheel zooms; two fingers or the middle button move it. */
export function Stage(props: StageProps) {
  const { bitmap, picture, label, overlay, loupeAt, follow } = props;
  const frame = useRef<HTMLDivElement>(null);
  const canvas = useRef<HTMLCanvasElement>(null);
  const [box, setBox] = useState<Size>({ width: 0, height: 0 });
  const [view, setView] = useState<View | null>(null);
  const pointers = useRef(new Map<number, ImagePoint>());
  const held = useRef<{ grip: Grip; pointer: number } | null>(null);
  const [finger, setFinger] = useState<{ at: ImagePoint; type: string } | null>(null);
  const { width, height } = picture;

  useLayoutEffect(() => {
    const element = frame.current;
    if (!element) return;
    const measure = () => setBox({ width: element.clientWidth, height: element.clientHeight });
    measure();
    const watcher = new ResizeObserver(measure);
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);

  // A new size of picture or box starts anew. What is to be shown first counts as it was at that time.
  const first = useRef(props.first);
  first.current = props.first;
  useLayoutEffect(() => {
    if (box.width === 0 || width === 0) return;
    const whole = { width, height };
    setView(first.current ? fitPart(first.current, whole, box) : fitView(whole, box));
  }, [box, width, height]);

  useEffect(() => {
    if (!follow) return;
    setView((now) => now && bringInto(now, follow, 40, { width, height }, box));
  }, [follow, width, height, box]);

  useLayoutEffect(() => {
    const element = canvas.current;
    if (!element || !view) return;
    const density = window.devicePixelRatio || 1;
    element.width = Math.round(box.width * density);
    element.height = Math.round(box.height * density);
    const pen = element.getContext("2d");
    if (!pen) return;
    pen.imageSmoothingEnabled = view.scale * density < 3;
    pen.imageSmoothingQuality = "high";
    // A picture that was let go of in the meantime has no width.
    if (bitmap && bitmap.width > 0) {
      pen.setTransform(view.scale * density, 0, 0, view.scale * density, view.x * density, view.y * density);
      pen.drawImage(bitmap, 0, 0, width, height);
    }
  }, [bitmap, view, box, width, height]);

  const zoomBy = useCallback(
    (factor: number, centre: ImagePoint) =>
      setView((now) => now && zoomAt(now, factor, centre, { width, height }, box)),
    [box, width, height],
  );

  // React listens to the wheel passively; zooming has to keep the page still.
  useEffect(() => {
    const element = frame.current;
    if (!element) return;
    const onWheel = (event: WheelEvent) => {
      event.preventDefault();
      const rect = element.getBoundingClientRect();
      const lines = event.deltaMode === 1 ? 24 : 1;
      zoomBy(Math.exp(-event.deltaY * lines * (event.ctrlKey ? 0.01 : 0.0018)), {
        x: event.clientX - rect.left,
        y: event.clientY - rect.top,
      });
    };
    element.addEventListener("wheel", onWheel, { passive: false });
    return () => element.removeEventListener("wheel", onWheel);
  }, [zoomBy]);

  const place = (event: PointerEvent): ImagePoint => {
    const rect = event.currentTarget.getBoundingClientRect();
    return { x: event.clientX - rect.left, y: event.clientY - rect.top };
  };

  const letGo = (how: "release" | "cancel", at?: ImagePoint) => {
    const holding = held.current;
    held.current = null;
    setFinger(null);
    if (!holding) return;
    if (how === "release" && at) holding.grip.release(at);
    else holding.grip.cancel();
  };

  const onPointerDown = (event: PointerEvent<HTMLDivElement>) => {
    if (!view || (event.target as Element).closest("button")) return;
    event.currentTarget.setPointerCapture(event.pointerId);
    const at = place(event);
    pointers.current.set(event.pointerId, at);
    if (pointers.current.size > 1) {
      letGo("cancel");
      return;
    }
    if (event.pointerType === "mouse" && event.button !== 0) return;
    const reach = fingerReach[event.pointerType as keyof typeof fingerReach] ?? fingerReach.touch;
    const grip = props.press?.(toImage(view, at), reach / view.scale) ?? null;
    if (!grip) return;
    held.current = { grip, pointer: event.pointerId };
    setFinger({ at, type: event.pointerType });
  };

  const onPointerMove = (event: PointerEvent<HTMLDivElement>) => {
    const before = pointers.current.get(event.pointerId);
    if (!before || !view) return;
    const at = place(event);
    const others = [...pointers.current].filter(([id]) => id !== event.pointerId).map(([, point]) => point);
    pointers.current.set(event.pointerId, at);
    const other = others[0];
    if (other) {
      const spread = (a: ImagePoint) => Math.hypot(a.x - other.x, a.y - other.y);
      const between = (a: ImagePoint) => ({ x: (a.x + other.x) / 2, y: (a.y + other.y) / 2 });
      const factor = spread(before) > 0 ? spread(at) / spread(before) : 1;
      // From the view as it is by then: both fingers may report before the next drawing.
      setView((now) => now && pinch(now, factor, between(before), between(at), picture, box));
      return;
    }
    const holding = held.current;
    if (holding && holding.pointer === event.pointerId) {
      setFinger({ at, type: event.pointerType });
      holding.grip.move(toImage(view, at));
      return;
    }
    setView((now) => now && pan(now, at.x - before.x, at.y - before.y, picture, box));
  };

  const onPointerUp = (event: PointerEvent<HTMLDivElement>) => {
    pointers.current.delete(event.pointerId);
    if (held.current?.pointer === event.pointerId && view) letGo("release", toImage(view, place(event)));
  };

  const onPointerCancel = (event: PointerEvent<HTMLDivElement>) => {
    pointers.current.delete(event.pointerId);
    if (held.current?.pointer === event.pointerId) letGo("cancel");
  };

  const middle = { x: box.width / 2, y: box.height / 2 };
  return (
    <div
      ref={frame}
      className="stage"
      tabIndex={props.onKeyDown ? 0 : -1}
      role="application"
      aria-label={label}
      onKeyDown={props.onKeyDown}
      onPointerDown={onPointerDown}
      onPointerMove={onPointerMove}
      onPointerUp={onPointerUp}
      onPointerCancel={onPointerCancel}
      onContextMenu={(event) => event.preventDefault()}
    >
      <canvas ref={canvas} />
      {view && overlay && (
        <svg className="stage-overlay" width={box.width} height={box.height} aria-hidden="true">
          {overlay(view, box)}
        </svg>
      )}
      {!bitmap && <p className="stage-wait">Getting the picture …</p>}
      {finger && loupeAt && bitmap && view && (
        <Loupe
          bitmap={bitmap}
          picture={picture}
          at={loupeAt}
          finger={finger.at}
          box={box}
          scale={Math.max(2, view.scale * 2.5)}
        >
          {props.loupeOverlay}
        </Loupe>
      )}
      {view &&
        props.children?.({
          zoom: (factor) => zoomBy(factor, middle),
          fit: () => setView(fitView(picture, box)),
          magnification: view.scale / fitView(picture, box).scale,
        })}
    </div>
  );
}
