import { useCallback, useLayoutEffect, useRef, useState } from "react";

/**
 * A drawing made for the width it gets, drawn anew when that changes. `draw` gives a whole svg element as text and
 * must keep its identity while it draws the same thing.
 */
export function Drawn({ draw, least = 240 }: { draw(width: number): string; least?: number }) {
  const [width, setWidth] = useState<number | null>(null);
  const box = useRef<HTMLDivElement | null>(null);
  const measure = useCallback((element: HTMLDivElement | null) => {
    box.current = element;
    if (!element) return;
    const watcher = new ResizeObserver(([entry]) => {
      if (entry) setWidth(Math.round(entry.contentRect.width));
    });
    watcher.observe(element);
    return () => watcher.disconnect();
  }, []);
  useLayoutEffect(() => {
    if (!box.current || width === null) return;
    const text = draw(Math.min(2000, Math.max(least, width)));
    box.current.replaceChildren(new DOMParser().parseFromString(text, "image/svg+xml").documentElement);
  }, [draw, width, least]);
  return <div className="kennel-drawn" ref={measure} />;
}
